package schema

import (
	"strings"
	"time"

	"graftnote/schema/quantity"
)

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

func deriveDisparity(s *scope) DerivedValue {
	t, ok := s.grafted()
	if !ok {
		return unknown
	}
	donor, host, ok := amounts(t.Diameter, s.e.Trephination.HostDiameter)
	if !ok {
		return unknown
	}
	return someNumber(donor.Sub(host))
}

func deriveTissuesRecorded(s *scope) DerivedValue { return someCount(len(s.e.Tissues)) }

// opened reports whether a tissue left its container. One that went back to the
// bank did not, unless something is recorded that was done to it; one that was
// discarded is on the record because it was opened.
func opened(t Tissue) bool {
	return t.Outcome.Is("grafted", "punched-not-used", "opened-not-used", "discarded") ||
		recordedAmong(&t.PunchedFrom, &t.Diameter, &t.Membrane, &t.Stain, &t.Prepared) > 0
}

func deriveTissueOpened(s *scope) []DerivedValue {
	return perItem(s.e.Tissues, func(t Tissue) DerivedValue {
		if !opened(t) && !t.Outcome.Recorded() {
			return unknown
		}
		return someYes(opened(t))
	})
}

func deriveTissuesUsed(s *scope) DerivedValue {
	n := 0
	for _, t := range s.e.Tissues {
		if opened(t) {
			n++
		}
	}
	return someCount(n)
}

func deriveTissuesGrafted(s *scope) DerivedValue {
	if len(s.e.Tissues) == 0 {
		return unknown
	}
	n, open := 0, false
	for _, t := range s.e.Tissues {
		open = open || !t.Outcome.Recorded()
		if t.Outcome.Is("grafted") {
			n++
		}
	}
	if open && n == 0 {
		return unknown
	}
	return someCount(n)
}

func deriveTissueListedTwice(s *scope) DerivedValue {
	seen := map[string]bool{}
	twice := false
	note := func(key string) {
		twice = twice || seen[key]
		seen[key] = true
	}
	for _, t := range s.e.Tissues {
		if t.ID.Recorded() {
			note("id\x00" + t.ID.Text() + "\x00" + t.Split.Text())
		}
		if t.EuropeanCode.Recorded() {
			note("code\x00" + t.EuropeanCode.Text())
		}
	}
	return someYes(twice)
}

func deriveGraftedMembrane(s *scope) DerivedValue {
	t, ok := s.grafted()
	if !ok || !t.Membrane.Recorded() {
		return unknown
	}
	return someCode(string(t.Membrane.Value()))
}

func deriveCodeWithoutExpiry(s *scope) []DerivedValue {
	return perItem(s.e.Tissues, func(t Tissue) DerivedValue {
		if !t.EuropeanCode.Recorded() {
			return someYes(false)
		}
		_, defined := codeExpiry(t)
		return someYes(!defined)
	})
}

// codeExpiry is the expiry held in the European code of a tissue.
func codeExpiry(t Tissue) (quantity.Date, bool) {
	year, month, day, ok := t.EuropeanCode.Value().ExpiryDate()
	return quantity.Date{Year: year, Month: time.Month(month), Day: day}, ok
}

func deriveCodeExpiryDiffers(s *scope) []DerivedValue {
	return perItem(s.e.Tissues, func(t Tissue) DerivedValue {
		if !t.EuropeanCode.Recorded() || !t.Expires.Recorded() {
			return unknown
		}
		in, defined := codeExpiry(t)
		return someYes(!defined || in != t.Expires.Value())
	})
}

func deriveCodeDonationDiffers(s *scope) []DerivedValue {
	return perItem(s.e.Tissues, func(t Tissue) DerivedValue {
		if !t.EuropeanCode.Recorded() || !t.Donation.Recorded() {
			return unknown
		}
		return someYes(t.EuropeanCode.Value().Donation != t.Donation.Value().String())
	})
}

func deriveCodeSplitDiffers(s *scope) []DerivedValue {
	return perItem(s.e.Tissues, func(t Tissue) DerivedValue {
		if !t.EuropeanCode.Recorded() || !t.Split.Recorded() {
			return unknown
		}
		in := t.EuropeanCode.Value().Split
		typed := strings.ToUpper(strings.TrimSpace(t.Split.Value()))
		if pad := len(in) - len(typed); pad > 0 {
			typed = strings.Repeat("0", pad) + typed
		}
		return someYes(in != typed)
	})
}

func (s *scope) storageComputed(t Tissue) (quantity.Decimal, bool) {
	day := s.e.Episode.Date
	if !t.Preserved.Recorded() || !day.Recorded() {
		return quantity.Decimal{}, false
	}
	return quantity.FromInt(int64(t.Preserved.Value().DaysUntil(day.Value()))), true
}

func deriveStorageComputed(s *scope) []DerivedValue {
	return perItem(s.e.Tissues, func(t Tissue) DerivedValue {
		days, ok := s.storageComputed(t)
		if !ok {
			return unknown
		}
		return someNumber(days)
	})
}

func deriveStorageExcess(s *scope) []DerivedValue {
	return perItem(s.e.Tissues, func(t Tissue) DerivedValue {
		days, ok := s.storageComputed(t)
		stated, has := amount(t.Storage)
		if !ok || !has || days.Sign() < 0 { // preserved after surgery: another rule says so
			return unknown
		}
		return someNumber(stated.Sub(days))
	})
}

func deriveStorageGap(s *scope) []DerivedValue {
	return perItem(deriveStorageExcess(s), func(v DerivedValue) DerivedValue {
		if !v.Known {
			return unknown
		}
		return someNumber(v.Number.Abs())
	})
}

func deriveDaysToExpiry(s *scope) []DerivedValue {
	day := s.e.Episode.Date
	return perItem(s.e.Tissues, func(t Tissue) DerivedValue {
		if !t.Expires.Recorded() || !day.Recorded() {
			return unknown
		}
		return someCount(day.Value().DaysUntil(t.Expires.Value()))
	})
}

func deriveDeviceExpiryDiffers(s *scope) []DerivedValue {
	return perItem(s.e.Supplies, func(x Supply) DerivedValue {
		if !x.DeviceCode.Recorded() || !x.Expires.Recorded() || x.DeviceCode.Value().Expiry == "" {
			return unknown
		}
		return someYes(x.DeviceCode.Value().Expiry != x.Expires.Value().String())
	})
}

func deriveDeviceLotDiffers(s *scope) []DerivedValue {
	return perItem(s.e.Supplies, func(x Supply) DerivedValue {
		if !x.DeviceCode.Recorded() || !x.Lot.Recorded() || x.DeviceCode.Value().Lot == "" {
			return unknown
		}
		return someYes(x.DeviceCode.Value().Lot != x.Lot.Value())
	})
}
