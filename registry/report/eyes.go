package report

import (
	"math"
	"slices"
	"strings"

	"graftnote/registry"
	"graftnote/registry/figures"
)

// eye is one operation with its visits.
type eye struct {
	row    Row
	visits []visit // by time
}

type visit struct {
	row    Row
	months float64
}

// eyes puts the visits to their operations. Visits without a time, of the other
// eye or of an unknown operation are left out; lost says whether there were any.
func eyes(d Data, f Filter) (out []eye, lost bool, err error) {
	at := map[string]int{}
	for _, r := range d.Rows {
		key := r.Cell(KeyColumn)
		if _, twice := at[key]; twice && key != "" {
			return nil, false, ErrKey
		}
		if !f.keeps(r) {
			at[key] = -1
			continue
		}
		at[key] = len(out)
		out = append(out, eye{row: r})
	}
	for _, r := range d.FollowUps {
		i, known := at[r.Cell(KeyColumn)]
		months, timed := value(r, "months")
		if !known || r.Cell(KeyColumn) == "" || !timed || months < 0 {
			lost = true
			continue
		}
		if i < 0 {
			continue
		}
		if side := r.Cell("visit_eye"); missing(side) == recorded && missing(out[i].row.Cell("eye")) == recorded && side != out[i].row.Cell("eye") {
			continue
		}
		out[i].visits = append(out[i].visits, visit{r, months})
	}
	for i := range out {
		slices.SortStableFunc(out[i].visits, func(a, b visit) int {
			switch {
			case a.months < b.months:
				return -1
			case a.months > b.months:
				return 1
			}
			return 0
		})
	}
	return out, lost, nil
}

// near is the visit closest to a time and no more than the window away; of two
// the earlier one.
func (e eye) near(months float64) (Row, bool) {
	best, far := -1, math.Inf(1)
	for i, v := range e.visits {
		if d := math.Abs(v.months - months); d < far && d <= content().Window {
			best, far = i, d
		}
	}
	if best < 0 {
		return nil, false
	}
	return e.visits[best].row, true
}

// has says whether a finding was seen at any visit; known is false when every
// visit is silent about it.
func (e eye) has(f finding) (found, known bool) {
	for _, v := range e.visits {
		cell := v.row.Cell(f.Column)
		if missing(cell) != recorded {
			continue
		}
		known = true
		for _, code := range strings.Split(cell, registry.Separator()) {
			if code != "none" && (len(f.Codes) == 0 || slices.Contains(f.Codes, code)) {
				found = true
			}
		}
	}
	return found, known
}

// outcome is the graft's observation: the earliest failure, or the last visit at
// which the graft was seen. A patient who is lost or has died was not seen on the
// day of that entry, so it adds no time.
func (e eye) outcome() (figures.Observation, bool) {
	var out figures.Observation
	seen := false
	for _, v := range e.visits {
		switch v.row.Cell("graft_status") {
		case "lost", "died":
			continue
		case "failed", "regrafted":
			seen = true
		default:
			if seen = true; !out.Event {
				out.Time = v.months
			}
			continue
		}
		t := v.months
		if m, ok := value(v.row, "failure_months"); ok && m >= 0 && m <= t {
			t = m
		}
		if !out.Event || t < out.Time {
			out = figures.Observation{Time: t, Event: true}
		}
	}
	return out, seen
}

// vector reads a power vector from its columns.
func vector(r Row, m, j0, j45 string) (figures.Vector, bool) {
	var v figures.Vector
	var a, b, c bool
	v.M, a = value(r, m)
	v.J0, b = value(r, j0)
	v.J45, c = value(r, j45)
	return v, a && b && c
}

// The kinds of a corrected acuity, in the order shown.
const (
	atLine   = "at the line or better"
	below    = "worse, on the chart"
	offChart = "off the chart"
	letters  = "letter score"
	noAcuity = "not known"
	noVisit  = "no visit"
)

// acuity sorts a corrected acuity; the number exists on the chart only.
func acuity(r Row, number, class string, line float64) (kind string, logmar float64) {
	if v, ok := value(r, number); ok {
		s := figures.SummariseAcuity([]figures.Acuity{{LogMAR: v}}, line)
		if s.Reached == 1 {
			return atLine, v
		}
		return below, v
	}
	switch r.Cell(class) {
	case "CF", "HM", "LP", "NLP":
		return offChart, 0
	case "letters":
		return letters, 0
	}
	return noAcuity, 0
}
