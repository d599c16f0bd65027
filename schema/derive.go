package schema

// computations are the derived values by name; each has its row in
// data/derived.yaml. They hold arithmetic only: limits stand in the rules.
var computations = map[string]func(*scope) []DerivedValue{
	"attempts":            deriveAttempts,
	"disparity":           deriveDisparity,
	"code-without-expiry": deriveCodeWithoutExpiry,
}

func deriveAttempts(s *scope) []DerivedValue {
	return []DerivedValue{someCount(len(s.e.Injections))}
}

// grafted is the tissue that was sutured in, when exactly one says so.
func (s *scope) grafted() (Tissue, bool) {
	var found []Tissue
	for _, t := range s.e.Tissues {
		if t.Outcome.Is("grafted") {
			found = append(found, t)
		}
	}
	if len(found) != 1 {
		return Tissue{}, false
	}
	return found[0], true
}

func deriveDisparity(s *scope) []DerivedValue {
	host := s.e.Trephination.HostDiameter
	t, ok := s.grafted()
	if !ok || !host.Recorded() || !t.Diameter.Recorded() {
		return []DerivedValue{{}}
	}
	return []DerivedValue{someNumber(t.Diameter.Value().In().Sub(host.Value().In()))}
}

func deriveCodeWithoutExpiry(s *scope) []DerivedValue {
	out := make([]DerivedValue, len(s.e.Tissues))
	for i, t := range s.e.Tissues {
		if t.EuropeanCode.Recorded() {
			_, _, _, has := t.EuropeanCode.Value().ExpiryDate()
			out[i] = someYes(!has)
		}
	}
	return out
}
