package schema

import (
	"sync"

	"graftnote/schema/quantity"
)

// computations are the derived values by name; each has its row in
// data/derived.yaml. They hold arithmetic only: limits stand in the rules.
var computations map[string]func(*scope) []DerivedValue

// The map is filled here and not where it is declared, because the functions
// look at the dictionary whose loading looks at the map.
func init() {
	computations = map[string]func(*scope) []DerivedValue{
		"age":                  one(deriveAge),
		"stated-age-gap":       one(deriveStatedAgeGap),
		"duration":             one(deriveDuration),
		"end-before-start":     one(deriveEndBeforeStart),
		"begun-before-end":     one(deriveBegunBeforeEnd),
		"end-in-future":        one(deriveEndInFuture),
		"recovery-before-note": one(deriveRecoveryBeforeNote),
		"delay-to-note":        one(deriveDelayToNote),
		"days-since-surgery":   one(deriveDaysSinceSurgery),
		"trainee-operates":     one(deriveTraineeOperates),
		"small-site":           one(deriveSmallSite),

		"case-names-patient":      one(deriveCaseNamesPatient),
		"story-other-eye":         one(deriveStoryOtherEye),
		"words-other-eye":         one(deriveWordsOtherEye),
		"story-side-against-hour": one(deriveStorySideAgainstHour),
		"event-side-against-hour": deriveEventSideAgainstHour,
		"story-treats-tear":       one(deriveStoryTreatsTear),
		"story-tells-event":       one(deriveStoryTellsEvent),
		"story-event-other-hour":  one(deriveStoryEventOtherHour),

		"mean-k":                one(deriveMeanK),
		"k-mean-outside":        one(deriveKMeanOutside),
		"k2-above-k-max":        one(deriveK2AboveKMax),
		"stage-by-curvature":    one(deriveStageByCurvature),
		"stage-by-thickness":    one(deriveStageByThickness),
		"thickness-range":       one(deriveThicknessRange),
		"corrected-logmar":      one(deriveCorrectedLogMAR),
		"hydrops-after-surgery": one(deriveHydropsAfterSurgery),
		"correction-loss":       one(deriveCorrectionLoss),
		"corrected-off-chart":   one(deriveCorrectedOffChart),
		"fewest-letters":        one(deriveFewestLetters),

		"depth-percent":          one(deriveDepthPercent),
		"depth-percent-thinnest": one(deriveDepthPercentThinnest),
		"depth-percent-gap":      one(deriveDepthPercentGap),
		"limbus-distance":        one(deriveLimbusDistance),
		"host-circumference":     one(deriveHostCircumference),
		"laser-values":           one(deriveLaserValues),
		"laser-sum-gap":          one(deriveLaserSumGap),

		"chamber-bubble-values":  one(deriveChamberBubbleValues),
		"sphere-volume":          one(deriveSphereVolume),
		"chamber-volume-ratio":   one(deriveChamberVolumeRatio),
		"attempts":               one(deriveAttempts),
		"air-attempts":           one(attemptsWith("air")),
		"viscoelastic-attempts":  one(attemptsWith("viscoelastic")),
		"fluid-attempts":         one(attemptsWith("balanced-salt", "water", "dye-mixed")),
		"failed-air-attempts":    one(deriveFailedAirAttempts),
		"entry-paracentesis-gap": deriveEntryParacentesisGap,

		"no-complications":       one(deriveNoComplications),
		"converted":              one(deriveConverted),
		"trephine-entries":       one(eventsOf("trephine-entry")),
		"microperforations":      one(eventsOf("microperforation")),
		"macroperforations":      one(eventsOf("macroperforation")),
		"tears":                  one(eventsOf("microperforation", "macroperforation")),
		"largest-tear":           one(deriveLargestTear),
		"event-told":             deriveEventTold,
		"seen-outside-operation": deriveSeenOutsideOperation,

		"tissues-recorded":      one(deriveTissuesRecorded),
		"tissue-opened":         deriveTissueOpened,
		"tissues-used":          one(deriveTissuesUsed),
		"tissues-grafted":       one(deriveTissuesGrafted),
		"tissue-listed-twice":   one(deriveTissueListedTwice),
		"grafted-membrane":      one(deriveGraftedMembrane),
		"disparity":             one(deriveDisparity),
		"code-without-expiry":   deriveCodeWithoutExpiry,
		"code-expiry-differs":   deriveCodeExpiryDiffers,
		"code-donation-differs": deriveCodeDonationDiffers,
		"code-split-differs":    deriveCodeSplitDiffers,
		"storage-computed":      deriveStorageComputed,
		"storage-excess":        deriveStorageExcess,
		"storage-gap":           deriveStorageGap,
		"days-to-expiry":        deriveDaysToExpiry,
		"device-expiry-differs": deriveDeviceExpiryDiffers,
		"device-lot-differs":    deriveDeviceLotDiffers,

		"paracentesis-details":    one(deriveParacentesisDetails),
		"running-sutures":         one(deriveRunningSutures),
		"suture-material-differs": one(deriveSutureMaterialDiffers),
		"supervised":              one(deriveSupervised),
		"no-attempts":             one(deriveNoAttempts),
		"stage-abcd-impossible":   one(deriveStageABCDImpossible),
		"stroma-may-remain":       one(deriveStromaMayRemain),
		"antiviral-refused":       one(deriveAntiviralRefused),

		"interrupted-odd":     one(deriveInterruptedOdd),
		"stitches-total":      one(deriveStitchesTotal),
		"suture-size-differs": one(deriveSutureSizeDiffers),

		"failure-recorded":          one(deriveFailureRecorded),
		"sutured-again":             one(deriveSuturedAgain),
		"visit-months":              deriveVisitMonths,
		"visit-window-gap":          deriveVisitWindowGap,
		"visit-in-future":           deriveVisitInFuture,
		"visit-after-end":           deriveVisitAfterEnd,
		"surviving-after-failure":   deriveSurvivingAfterFailure,
		"months-to-last-suture":     deriveMonthsToLastSuture,
		"cell-count-rise":           deriveCellCountRise,
		"acuity-change":             deriveAcuityChange,
		"visit-findings":            deriveVisitFindings,
		"visit-correction-loss":     deriveVisitCorrectionLoss,
		"visit-corrected-off-chart": deriveVisitCorrectedOffChart,
	}
}

// unknown is the value of a computation that lacks one of its answers.
var unknown = DerivedValue{}

// one lifts a computation with a single value into the common form.
func one(f func(*scope) DerivedValue) func(*scope) []DerivedValue {
	return func(s *scope) []DerivedValue { return []DerivedValue{f(s)} }
}

// perItem computes one value for each item of a list group.
func perItem[T any](items []T, f func(T) DerivedValue) []DerivedValue {
	out := make([]DerivedValue, len(items))
	for i := range items { // an item is large: it is not copied before the call
		out[i] = f(items[i])
	}
	return out
}

// amount is the exact number behind an answer in its canonical unit.
func amount(a Answer[quantity.Quantity]) (quantity.Decimal, bool) {
	if !a.Recorded() {
		return quantity.Decimal{}, false
	}
	return a.Value().In(), true
}

// amounts gives two numbers when both are recorded.
func amounts(a, b Answer[quantity.Quantity]) (x, y quantity.Decimal, ok bool) {
	x, okX := amount(a)
	y, okY := amount(b)
	return x, y, okX && okY
}

// quotientDigits keep every threshold of the rules far from the rounding.
const quotientDigits = 12

// share is part divided by whole in per cent, to one place.
func share(part, whole quantity.Decimal) DerivedValue {
	q := part.Mul(quantity.FromInt(100)).Quo(whole, quotientDigits)
	if !q.IsDefined() {
		return unknown
	}
	return someNumber(q.Round(1))
}

// known is the number of a computed value.
func known(v DerivedValue) (quantity.Decimal, bool) { return v.Number, v.Known && v.HasNumber }

// staging holds the published cut points of a grading table.
type staging struct {
	Curvature []int64 `yaml:"curvature"` // dioptres, rising
	Thickness []int64 `yaml:"thickness"` // micrometres, falling
}

// stagingTable is data/staging.yaml, read once. A failure is a fault of the
// build.
var stagingTable = sync.OnceValue(func() staging {
	var file struct {
		AmslerKrumeich staging `yaml:"amsler-krumeich"`
	}
	if err := decode("staging.yaml", &file); err != nil {
		panic("schema: data: " + err.Error())
	}
	return file.AmslerKrumeich
})
