package schema

import (
	"fmt"
	"slices"
	"time"

	"graftnote/schema/quantity"
)

// Window is the time after surgery in which one follow-up is due.
type Window struct {
	Months int              `yaml:"months"` // nominal, since surgery
	From   quantity.Decimal `yaml:"from"`   // months; a visit from here on belongs to it
	To     quantity.Decimal `yaml:"to"`     // months; the window closes
	Source []string         `yaml:"source"`
}

// holds reports whether a time since surgery lies in the window; its end belongs
// to the next one.
func (w Window) holds(months quantity.Decimal) bool {
	return months.Cmp(w.From) >= 0 && months.Cmp(w.To) < 0
}

// FollowupWindows are the follow-ups that are due after every graft.
func (d *Dictionary) FollowupWindows() []Window { return slices.Clone(d.followup.Windows) }

func (c *followupContent) soundWindows(d *Dictionary) error {
	last := quantity.Decimal{}
	for _, w := range c.Windows {
		nominal := quantity.FromInt(int64(w.Months))
		if w.From.Cmp(last) < 0 || !w.holds(nominal) || len(w.Source) == 0 {
			return fmt.Errorf("followup.yaml: the window of %d months overlaps, lacks its nominal time or has no source", w.Months)
		}
		last = w.To
	}
	for _, code := range slices.Concat(c.Ends, c.Unseen) {
		if _, ok := d.Lists["graft-status"].Words(string(code)); !ok {
			return fmt.Errorf("followup.yaml: no status %q", code)
		}
	}
	return nil
}

// DueState is where one follow-up of a graft stands on a day.
type DueState string

// The states of a follow-up.
const (
	DueSeen   DueState = "seen"    // a visit lies in the window
	DueOpen   DueState = "due"     // the nominal time has come
	DueMissed DueState = "missed"  // the window has closed without a visit
	DueLater  DueState = "to come" // the nominal time has not come
	DueEnded  DueState = "not due" // the graft's follow-up had ended before
)

// Due is one follow-up of one graft.
type Due struct {
	Window Window
	State  DueState
	On     quantity.Date // the day on which it is due, whole months after surgery
	Closes quantity.Date // the first day after the window
}

// FollowupDue tells where each follow-up of an operation stands on the day of a
// time, from its signed entry and the follow-ups recorded. An operation without a graft, or
// without a date, has none.
func FollowupDue(index Checked, recorded []CheckedFollowup, at time.Time) []Due {
	content, e := Content().followup, index.Entry()
	on := quantity.Date{Year: at.Year(), Month: at.Month(), Day: at.Day()}
	s := &scope{e: e, memo: map[*Derived][]DerivedValue{}}
	if !e.Episode.Date.Recorded() || !s.holds(Content().Conditions[content.Expects].tests) {
		return nil
	}
	day := e.Episode.Date.Value()
	visits := visitsBefore(index, recorded)
	ended := endOf(visits, content.Ends, on)
	out := make([]Due, 0, len(content.Windows))
	for _, w := range content.Windows {
		d := Due{Window: w, State: DueLater, On: monthsLater(day, w.Months), Closes: firstDayAt(day, w.To)}
		switch {
		case slices.ContainsFunc(visits, func(v Visit) bool { return w.sees(day, v, on) }):
			d.State = DueSeen
		case ended != nil && ended.Before(d.Closes):
			d.State = DueEnded
		case !on.Before(d.Closes):
			d.State = DueMissed
		case !on.Before(d.On):
			d.State = DueOpen
		}
		out = append(out, d)
	}
	return out
}

// monthsLater is the same day of the month so many months later, or the month's
// last day where it has no such day.
func monthsLater(d quantity.Date, months int) quantity.Date {
	last := time.Date(d.Year, d.Month+time.Month(months)+1, 0, 0, 0, 0, 0, time.UTC)
	return quantity.Date{Year: last.Year(), Month: last.Month(), Day: min(d.Day, last.Day())}
}

// sees reports whether a visit up to a day answers the window: by the nominal
// visit that it names, else by its time since surgery. One at which nobody was
// examined answers none.
func (w Window) sees(surgery quantity.Date, v Visit, on quantity.Date) bool {
	if !v.Date.Recorded() || v.Date.Value().After(on) || v.Status.Is(Content().followup.Unseen...) {
		return false
	}
	if nominal, ok := amount(v.Nominal); ok {
		if slices.ContainsFunc(Content().followup.Windows, func(x Window) bool { return quantity.FromInt(int64(x.Months)).Cmp(nominal) == 0 }) {
			return quantity.FromInt(int64(w.Months)).Cmp(nominal) == 0
		}
	}
	return w.holds(monthsBetween(surgery, v.Date.Value()))
}

// endOf is the day of the first visit up to a day that ends the follow-up; nil
// when there is none.
func endOf(visits []Visit, ends []Code, on quantity.Date) *quantity.Date {
	var first *quantity.Date
	for _, v := range visits {
		if !v.Date.Recorded() || v.Date.Value().After(on) || !v.Status.Is(ends...) {
			continue
		}
		if day := v.Date.Value(); first == nil || day.Before(*first) {
			first = &day
		}
	}
	return first
}

// firstDayAt is the first day whose months since surgery reach a number.
func firstDayAt(surgery quantity.Date, months quantity.Decimal) quantity.Date {
	days, _ := months.Mul(daysPerYear).Quo(quantity.FromInt(monthsPerYear), quotientDigits).Round(0).Int()
	day := surgery.AddDays(int(days))
	for monthsBetween(surgery, day).Cmp(months) >= 0 && day.After(surgery) {
		day = day.AddDays(-1)
	}
	for monthsBetween(surgery, day).Cmp(months) < 0 {
		day = day.AddDays(1)
	}
	return day
}

const monthsPerYear = 12
