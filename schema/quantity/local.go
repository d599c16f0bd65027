package quantity

import "time"

// LocalKind says how a wall-clock time relates to the clock changes of a place.
type LocalKind string

// Kinds of LocalStatus.
const (
	LocalOK             LocalKind = "ok"              // one instant
	LocalGap            LocalKind = "gap"             // skipped when clocks went forward
	LocalOverlap        LocalKind = "overlap"         // shown twice when clocks went back
	LocalOffsetMismatch LocalKind = "offset-mismatch" // the written offset is not kept there then
)

// LocalStatus is the outcome of ResolveLocal.
type LocalStatus struct {
	Kind LocalKind
	// Earlier and Later are the two instants of an overlap. For a gap they are
	// the instants the time would be by the offsets after and before the change.
	Earlier, Later time.Time
}

// ResolveLocal finds the instant of a wall-clock time at a place. It is the
// zero time for a gap and for an overlap without a written offset: both must be
// asked about. A written offset decides, and selects one instant of an overlap;
// when the place does not keep that offset then, the instant is returned with
// LocalOffsetMismatch. A nil location is UTC.
func ResolveLocal(date Date, tod TimeOfDay, loc *time.Location) (time.Time, LocalStatus) {
	if loc == nil {
		loc = time.UTC
	}
	wall := time.Date(date.Year, date.Month, date.Day, tod.Hour, tod.Minute, 0, 0, time.UTC)
	if tod.HasOffset {
		at := wall.Add(-time.Duration(tod.Offset) * time.Minute).In(loc)
		if _, o := at.Zone(); o != tod.Offset*60 {
			return at, LocalStatus{Kind: LocalOffsetMismatch}
		}
		return at, LocalStatus{Kind: LocalOK}
	}
	// The offsets in force a day before and a day after are the candidates. No
	// offset reaches a whole day, so they lie on either side of any change that
	// touches the wall time, and no place changes twice in two days.
	var valid, tried []time.Time
	seen := map[int]bool{}
	for _, days := range []int{-1, 1} {
		_, offset := wall.AddDate(0, 0, days).In(loc).Zone()
		if seen[offset] {
			continue
		}
		seen[offset] = true
		at := wall.Add(-time.Duration(offset) * time.Second).In(loc)
		tried = append(tried, at)
		if _, o := at.Zone(); o == offset {
			valid = append(valid, at)
		}
	}
	switch len(valid) {
	case 0:
		e, l := spread(tried)
		return time.Time{}, LocalStatus{Kind: LocalGap, Earlier: e, Later: l}
	case 1:
		return valid[0], LocalStatus{Kind: LocalOK}
	}
	e, l := spread(valid)
	return time.Time{}, LocalStatus{Kind: LocalOverlap, Earlier: e, Later: l}
}

// spread returns the earliest and the latest of at least one instant.
func spread(list []time.Time) (earliest, latest time.Time) {
	earliest, latest = list[0], list[0]
	for _, t := range list[1:] {
		if t.Before(earliest) {
			earliest = t
		}
		if t.After(latest) {
			latest = t
		}
	}
	return earliest, latest
}
