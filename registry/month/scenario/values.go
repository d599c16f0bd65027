package scenario

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"
)

const isoDate = "2006-01-02"

type visit struct {
	Date, Eye, Status, Unaided, Corrected, Sphere, Cylinder, KMean, Rejection, RejectionDate, Cause string
	Nominal, Axis, Thickness, Cells, Clarity, Haze, Out, Pressure                                   int
}

// surgery is the day of surgery, never at a weekend.
func (p Plan) surgery(r *rand.Rand) time.Time {
	days := max(int(p.Until.Sub(p.From).Hours()/24), 1)
	for day := p.From.AddDate(0, 0, r.IntN(days)); ; day = day.AddDate(0, 0, -1) {
		if w := day.Weekday(); w != time.Saturday && w != time.Sunday || day.Before(p.From) {
			return day
		}
	}
}

func (p Plan) values(i int) map[string]any {
	c := load()
	number, second := p.person(i)
	who := rand.New(rand.NewPCG(p.Seed^0xface, uint64(number)))
	r := rand.New(rand.NewPCG(p.Seed, uint64(i)<<1))
	found := weighted(who, c.Findings, func(f finding) int { return f.Weight })
	sex := choose(who, "female", "male")
	name := choose(who, c.Given[sex]...) + " " + choose(who, c.Family...)
	eyes := []string{"right", "left"}
	if percent(who, 50) {
		eyes[0], eyes[1] = eyes[1], eyes[0]
	}
	eye := eyes[0]
	if second {
		eye = eyes[1]
	}
	born := p.From.AddDate(-between(who, found.Ages[0], found.Ages[1]), -who.IntN(12), -who.IntN(28))
	day := p.surgery(r)
	course := weighted(r, c.Courses, func(c course) int { return c.Weight }).Key
	surgeon := choose(r, c.Surgeons...)
	thinnest := between(r, found.Thinnest[0], found.Thinnest[1])
	ring := max(thinnest+between(r, 90, 150), 520)
	host := choose(r, 7.75, 8.0, 8.25)
	start := time.Date(2000, 1, 1, between(r, 8, 14), 5*r.IntN(12), 0, 0, time.UTC)
	end := start.Add(time.Duration(between(r, 50, 100)) * time.Minute)
	cells := between(r, 2200, 2900)
	preservation, storage := "hypothermic", between(r, 3, 10)
	if percent(r, 50) {
		preservation, storage = "organ-culture", between(r, 10, 24)
	}
	ectasia := found.Stage > 0 || found.Diagnosis == "pellucid" || strings.HasPrefix(found.Diagnosis, "ectasia")
	v := map[string]any{
		"Case": p.caseID(i), "Course": course, "Patient": fmt.Sprintf("FIC-%d", 1_000_000+number), "Name": name, "Born": born.Format(isoDate), "Sex": sex,
		"Eye": eye, "Fellow": "normal", "Date": day.Format(isoDate), "Start": start.Format("15:04"), "End": end.Format("15:04"),
		"Begun": day.Format(isoDate) + "T" + end.Add(15*time.Minute).Format("15:04") + offset(day), "Consent": day.AddDate(0, 0, -between(r, 7, 60)).Format(isoDate),
		"Registry": "yes", "Surgeon": surgeon.Name, "Grade": surgeon.Grade, "Diagnosis": found.Diagnosis, "Why": found.Why, "Stage": found.Stage,
		"Scar": "none", "Herited": strings.HasSuffix(found.Diagnosis, "dystrophy"), "Before": figure(r, 0.5, 1.3, 1), "Correction": "spectacles",
		"KMean": figure(r, found.K[0], found.K[1], 1), "Thinnest": thinnest, "Ring": ring, "White": figure(r, 11.5, 12.2, 1), "Chamber": figure(r, 2.9, 3.7, 1), "Cells": cells,
		"Anaesthesia": choose(r, "general", "general", "peribulbar", "sub-tenon"), "Host": fmt.Sprintf("%.2f", host), "Donor": fmt.Sprintf("%.2f", host+0.25), "Depth": ring * 65 / 100,
		"Tissue": fmt.Sprintf("T-FIC-%06d", i), "DonorAge": between(r, 45, 74), "Preservation": preservation, "Storage": storage,
		"Expires": day.AddDate(0, 0, between(r, 2, 8)).Format(isoDate), "DonorCells": 10 * between(r, 215, 280), "Running": percent(r, 35),
	}
	if strings.HasPrefix(found.Diagnosis, "scar") {
		v["Scar"] = "[anterior, central]"
	}
	if ectasia {
		v["Correction"] = "rigid-lens"
		v["Fellow"] = "keratoconus"
	} else if v["Herited"] == true {
		v["Fellow"] = "other"
	}
	if percent(r, c.NoConsent) {
		v["Registry"] = "no"
	}
	v["Visits"] = p.visits(r, day, eye, cells)
	return v
}

// offset of the clock in London: summer time from the last Sunday of March to
// that of October, at one in the morning of universal time.
func offset(day time.Time) string {
	lastSunday := func(m time.Month) time.Time {
		last := time.Date(day.Year(), m+1, 0, 0, 0, 0, 0, time.UTC)
		return last.AddDate(0, 0, -int(last.Weekday()))
	}
	if !day.Before(lastSunday(time.March)) && day.Before(lastSunday(time.October)) {
		return "+01:00"
	}
	return "+00:00"
}

// visits at 3, 6, 12 and 24 months, as far as the plan goes and unless one is
// missed. A failed graft ends them.
func (p Plan) visits(r *rand.Rand, day time.Time, eye string, cells int) []visit {
	c := load()
	var out []visit
	acuity := 0.35 + 0.3*r.Float64()
	for n, months := range []int{3, 6, 12, 24} {
		on := day.AddDate(0, months, between(r, -10, 10))
		if on.After(p.Until) {
			break
		}
		if percent(r, c.VisitMissed) {
			continue
		}
		acuity = max(acuity-0.1*r.Float64(), 0)
		cells = cells * between(r, 955, 995) / 1000
		v := visit{Date: on.Format(isoDate), Eye: eye, Nominal: months, Status: "surviving", Corrected: fmt.Sprintf("%.1f", acuity), Unaided: fmt.Sprintf("%.1f", acuity+0.3),
			Sphere: figure(r, 0.5, 3.5, 1) + "0", Cylinder: figure(r, 1, 4.5, 1) + "0", Axis: between(r, 1, 180), KMean: figure(r, 42.5, 47, 1), Thickness: between(r, 510, 590), Cells: cells,
			Clarity: 0, Haze: r.IntN(2), Out: 2 * n, Rejection: "none", Pressure: between(r, 11, 19)}
		switch {
		case percent(r, c.Failure):
			v.Status, v.Cause, v.Clarity = "failed", choose(r, "rejection", "interface", "infection"), 3
			return append(out, v)
		case percent(r, c.Rejection):
			v.Rejection, v.RejectionDate = choose(r, "subepithelial", "stromal", "epithelial"), on.AddDate(0, 0, -between(r, 5, 30)).Format(isoDate)
		}
		out = append(out, v)
	}
	return out
}
