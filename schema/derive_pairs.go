package schema

import (
	"regexp"
	"slices"
	"strings"

	"graftnote/schema/quantity"
)

// What stands beside a "no", and numbers of things that stand beside a word for
// them. The rules say which of them contradict.

func deriveParacentesisDetails(s *scope) DerivedValue {
	p := s.e.Paracentesis
	n := recordedAmong(&p.Hours, &p.Blade)
	if p.AqueousReleased.Is("yes") {
		n++
	}
	return someCount(n)
}

func deriveRunningSutures(s *scope) DerivedValue {
	r := s.e.Sutures.Running
	if !r.Recorded() {
		return unknown
	}
	return someCount(len(r.Value()))
}

// deriveSutureMaterialDiffers looks only at a material typed in its own field: one
// taken over from the count agrees with it by making.
func deriveSutureMaterialDiffers(s *scope) DerivedValue {
	t := s.e.Sutures
	if !t.Material.Recorded() || t.Material.Pos() == t.Interrupted.Pos() || t.Material.Pos() == t.Running.Pos() {
		return unknown
	}
	differs := func(g quantity.Stitches) bool { return g.Material != "" && Code(g.Material) != t.Material.Value() }
	return someYes(t.Interrupted.Recorded() && differs(t.Interrupted.Value()) || slices.ContainsFunc(t.Running.Value(), differs))
}

// deriveSupervised looks for another person than the trainee who operates: by
// name, so that one person in two rows is still one.
func deriveSupervised(s *scope) DerivedValue {
	var trainees []string
	for _, p := range s.e.Team {
		if p.Role.Is("surgeon") && p.Grade.Is("trainee") {
			trainees = append(trainees, p.Name.Text())
		}
	}
	return someYes(slices.ContainsFunc(s.e.Team, func(p Person) bool {
		return p.Role.Is("supervisor") && !slices.Contains(trainees, p.Name.Text())
	}))
}

// deriveNoAttempts: an honest gap about the attempts is not none.
func deriveNoAttempts(s *scope) DerivedValue {
	return someYes(len(s.e.Injections) == 0 && s.e.List("injections").Reason == "")
}

// gradesABCD are the four letters, each with its grade; the mark of a scar may
// follow.
var gradesABCD = regexp.MustCompile(`(?i)^A[0-4]B[0-4]C[0-4]D[0-4][-+]*$`)

func deriveStageABCDImpossible(s *scope) DerivedValue {
	stage := s.e.Indication.StageABCD
	if !stage.Recorded() {
		return unknown
	}
	return someYes(!gradesABCD.MatchString(strings.Join(strings.Fields(stage.Value()), "")))
}

// deriveStromaMayRemain: stroma stays in the bed by the plane that was reached; and
// by hand or after a partial separation unless the membrane was bared.
func deriveStromaMayRemain(s *scope) DerivedValue {
	sep, done := s.e.Separation, s.e.Procedure.Performed
	byHand := done.Is("manual-layered") || sep.Obtained.Is("partial") && !done.Is("converted-penetrating", "abandoned", "staged")
	return someYes(sep.Plane.Is("deep-stroma", "mixed-by-area") || byHand && !sep.Plane.Is("descemetic", "full-thickness"))
}

// deriveAntiviralRefused: the answer is the bare word none, without a reason.
func deriveAntiviralRefused(s *scope) DerivedValue {
	a := s.e.Plan.Antiviral
	if !a.Recorded() {
		return unknown
	}
	text := strings.ToLower(strings.Trim(a.Value(), " .!"))
	return someYes(slices.Contains(words().BareNone, text))
}
