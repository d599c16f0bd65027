package schema

import "testing"

// The European code is the constructed specimen of 40 characters (Directive
// 2006/86/EC, Annex VII); G1234 98 654321 and G1234 89 654321 are the published
// pair with two digits exchanged (Red Book, Annex 2; python-stdnum).
func TestTissues(t *testing.T) {
	const code = "european-code: SEC GB000001G123498654321 A012345600020261231"
	const open = "european-code: SEC GB000001G123498654321 A012345600000000000"
	tissue := func(rest string) string { return "episode: {date: 2026-09-08}\ntissues: [{" + rest + "}]" }
	hold(t, []example{
		{tissue(code), "code-without-expiry", "no"}, {tissue(open), "code-without-expiry", "yes"}, {tissue("id: T-FIC-1"), "code-without-expiry", "no"},
		{tissue(code + ", expires: 2026-12-31"), "code-expiry-differs", "no"},
		{tissue(code + ", expires: 2026-12-30"), "code-expiry-differs", "yes"},
		{tissue(open + ", expires: 2026-12-31"), "code-expiry-differs", "yes"},
		{tissue("expires: 2026-12-31"), "code-expiry-differs", "-"},
		{tissue(code + ", donation: G1234 98 654321"), "code-donation-differs", "no"},
		{tissue(code + ", donation: G1234 89 654321"), "code-donation-differs", "yes"},
		{tissue(code + ", split: '0'"), "code-split-differs", "no"}, {tissue(code + ", split: '000'"), "code-split-differs", "no"},
		{tissue(code + ", split: '001'"), "code-split-differs", "yes"},
		{tissue("preserved: 2026-09-03, storage: 5 d"), "storage-computed", "5"},
		{tissue("preserved: 2026-09-03, storage: 5 d"), "storage-gap", "0"},
		{tissue("preserved: 2026-09-03, storage: 1 wk"), "storage-excess", "2"},
		{tissue("preserved: 2026-09-03, storage: 3 d"), "storage-excess", "-2"},
		{tissue("preserved: 2026-09-10, storage: 3 d"), "storage-excess", "-"},
		{tissue("expires: 2026-09-15"), "days-to-expiry", "7"}, {tissue("expires: 2026-09-07"), "days-to-expiry", "-1"},
		{tissue("id: T-FIC-1"), "tissue-listed-twice", "no"},
		{"tissues: [{id: T-FIC-1}, {id: T-FIC-1}]", "tissue-listed-twice", "yes"},
		{"tissues: [{id: T-FIC-1, split: '001'}, {id: T-FIC-1, split: '002'}]", "tissue-listed-twice", "no"},
		{"tissues: [{" + code + "}, {" + code + "}]", "tissue-listed-twice", "yes"},
	})
	const two = "trephination: {host-diameter: 8.00 mm}\ntissues: [{outcome: punched-not-used, diameter: 8.5 mm, membrane: removed-complete}, {outcome: grafted, diameter: 8.25 mm, membrane: left}]"
	hold(t, []example{
		{two, "disparity", "0.25"}, {two, "grafted-membrane", "left"}, {two, "tissues-grafted", "1"},
		{two, "tissues-used", "2"}, {two, "tissues-recorded", "2"},
		{"tissues: [{outcome: grafted}, {outcome: discarded}, {outcome: opened-not-used}, {outcome: punched-not-used}, {outcome: returned}, {outcome: returned, diameter: 8 mm}, {diameter: 8 mm}, {id: T-FIC-1}]", "tissue-opened", "yes yes yes yes no yes yes -"},
		{"tissues: [{outcome: grafted}, {outcome: discarded, membrane: removed-complete}, {outcome: returned}]", "tissues-used", "2"},
		{"tissues: [{outcome: grafted, diameter: 8 mm}, {outcome: grafted, diameter: 8 mm}]\ntrephination: {host-diameter: 8 mm}", "disparity", "-"},
		{"tissues: [{id: T-FIC-1}]", "tissues-grafted", "-"}, {"tissues: [{outcome: returned}]", "tissues-grafted", "0"},
		{"tissues: [{outcome: grafted, diameter: 7.75 mm}]\ntrephination: {host-diameter: 8 mm}", "disparity", "-0.25"},
	})
}

// Numbers and words that stand beside one another; the grades of the ABCD stage
// run from 0 to 4 (Klin Monbl Augenheilkd 2016;233:701).
func TestPairs(t *testing.T) {
	hold(t, []example{
		{"paracentesis: {made: no, hours: 11 o'clock, aqueous-released: yes}", "paracentesis-details", "2"},
		{"paracentesis: {made: no, aqueous-released: no}", "paracentesis-details", "0"},
		{"sutures: {running: [16-bite 10-0 nylon, 16-bite 10-0 nylon]}", "running-sutures", "2"},
		{"sutures: {pattern: interrupted}", "running-sutures", "-"},
		{"sutures: {interrupted: 16 x 10-0 nylon, material: polyester}", "suture-material-differs", "yes"},
		{"sutures: {interrupted: 16 x 10-0 nylon, material: nylon}", "suture-material-differs", "no"},
		{"sutures: {running: 16-bite 10-0 nylon, material: polyester}", "suture-material-differs", "yes"},
		{"sutures: {interrupted: 16 x 10-0 nylon, running: 16-bite 11-0 polyester}", "suture-material-differs", "-"},
		{"team: [{name: Imara Voss, role: [surgeon, supervisor], grade: trainee}]", "supervised", "no"},
		{"team: [{name: Imara Voss, role: surgeon, grade: trainee}, {name: Imara Voss, role: supervisor}]", "supervised", "no"},
		{"team: [{name: Imara Voss, role: surgeon, grade: trainee}, {name: Joss Keld, role: supervisor}]", "supervised", "yes"},
		{"injections: [{medium: air}]", "no-attempts", "no"}, {"case: silent", "no-attempts", "yes"},
		{"injections: 'not recorded: not counted'", "no-attempts", "no"},
		{"indication: {stage-abcd: A9B3C3D1}", "stage-abcd-impossible", "yes"}, {"indication: {stage-abcd: A2B3C3}", "stage-abcd-impossible", "yes"},
		{"indication: {stage-abcd: a2 b3 c3 d1}", "stage-abcd-impossible", "no"}, {"indication: {stage-abcd: A4B0C4D4++}", "stage-abcd-impossible", "no"},
		{"plan: {antiviral: None.}", "antiviral-refused", "yes"}, {"plan: {antiviral: 'none, allergic to aciclovir'}", "antiviral-refused", "no"},
		{"plan: {antiviral: aciclovir 400 mg twice a day}", "antiviral-refused", "no"}, {"plan: {antiviral: 'not recorded: lost'}", "antiviral-refused", "-"},
		{"separation: {plane: deep-stroma}", "stroma-may-remain", "yes"}, {"procedure: {performed: manual-layered}", "stroma-may-remain", "yes"},
		{"separation: {obtained: partial, plane: pre-descemetic}\nprocedure: {performed: air-big-bubble}", "stroma-may-remain", "yes"},
		{"separation: {obtained: partial, plane: descemetic}", "stroma-may-remain", "no"},
		{"separation: {obtained: partial}\nprocedure: {performed: converted-penetrating}", "stroma-may-remain", "no"},
		{"separation: {obtained: complete, plane: pre-descemetic}", "stroma-may-remain", "no"},
	})
}

// The item number is the published example of GS1 India.
func TestSupplies(t *testing.T) {
	const code = `device-code: "(01)08904000210037(17)261231(10)LOT7"`
	hold(t, []example{
		{"supplies: [{" + code + ", expires: 2026-12-31}, {" + code + ", expires: 2026-12-30}, {" + code + "}]", "device-expiry-differs", "no yes -"},
		{"supplies: [{" + code + ", lot: LOT7}, {" + code + ", lot: lot7}, {lot: LOT7}]", "device-lot-differs", "no yes -"},
	})
}

// Sixteen interrupted stitches and a sixteen-bite running suture are both
// published patterns, counted apart.
func TestSutureCounts(t *testing.T) {
	hold(t, []example{
		{"sutures: {pattern: interrupted, interrupted: 16 x 10-0 nylon}", "stitches-total", "16"},
		{"sutures: {pattern: interrupted-and-running, interrupted: 8 x 10-0 nylon, running: 16-bite 10-0 nylon}", "stitches-total", "24"},
		{"sutures: {pattern: double-running, running: [12-bite 10-0 nylon, 16-bite 11-0 nylon]}", "stitches-total", "28"},
		{"sutures: {pattern: interrupted-and-running, interrupted: 8 x 10-0 nylon}", "stitches-total", "-"},
		{"sutures: {interrupted: 15 x 10-0 nylon}", "interrupted-odd", "yes"},
		{"sutures: {interrupted: 16 x 10-0 nylon}", "interrupted-odd", "no"},
		{"sutures: {interrupted: 16 x 10-0 nylon, gauge: 11-0}", "suture-size-differs", "yes"},
		{"sutures: {interrupted: 16 x 10-0 nylon, gauge: 10-0}", "suture-size-differs", "no"},
		{"sutures: {interrupted: 16 x 10-0 nylon, running: 16-bite 11-0 nylon}", "suture-size-differs", "-"},
	})
}

func TestVisits(t *testing.T) {
	const day = "episode: {date: 2026-09-08}\n"
	hold(t, []example{
		// 365 days are 11.99 months of 30.44 days.
		{day + "visits: [{date: 2027-09-08}, {date: 2026-09-08}, {}]", "visit-months", "12.0 0.0 -"},
		{day + "visits: [{date: 2027-09-08, nominal: 24 mo}, {date: 2028-09-08, nominal: 2 a}]", "visit-window-gap", "12.0 0.0"},
		{day + "visits: [{last-suture-out: 2026-12-07}, {last-suture-out: 2026-12-08}, {last-suture-out: 2027-01-01}]", "months-to-last-suture", "2 3 3"},
		{"before: {host-ecd: 2500 cells/mm2}\nvisits: [{host-ecd: 2000 cells/mm2}, {host-ecd: 3125 cells/mm2}, {}]", "cell-count-rise", "-20.0 25.0 -"},
		{"before: {corrected: 0.7 logMAR}\nvisits: [{corrected: 6/12}, {corrected: 1.1 logMAR}, {corrected: HM}]", "acuity-change", "-0.40 0.40 -"},
		{"visits: [{status: surviving}]", "failure-recorded", "no"}, {"visits: [{status: surviving}, {failure-date: 2027-01-01}]", "failure-recorded", "yes"},
		{day + "visits: [{date: 2027-01-01, status: died}, {date: 2027-02-01, status: surviving}]", "visit-after-end", "no yes"},
		{day + "visits: [{date: 2027-02-01, status: surviving}, {date: 2027-01-01, status: failed}]", "surviving-after-failure", "yes no"},
		{day + "visits: [{date: 2027-01-01, status: failed}, {date: 2027-02-01, status: failed}]", "surviving-after-failure", "no no"},
		{day + "visits: [{date: 2027-01-01, status: failed}, {date: 2027-01-20, status: regrafted}, {date: 2027-02-01, status: surviving}]", "surviving-after-failure", "no no no"},
		{"indication: {hydrops-year: 2027}\n" + day, "hydrops-after-surgery", "yes"},
		{"patient: {born: 2002-03-14}\nindication: {hydrops-year: 2001}\n" + day, "hydrops-after-surgery", "yes"},
		{"patient: {born: 2002-03-14}\nindication: {hydrops-year: 2020}\n" + day, "hydrops-after-surgery", "no"},
	})
}

// Sentences of the trade; the second of each kind must stay quiet. The clock
// face: nasal is at 3 o'clock in a right eye and at 9 o'clock in a left one (from
// memory of the convention, unverified).
func TestWordsOfTheStory(t *testing.T) {
	story := func(eye, text string) string {
		return "eye: {operated: " + eye + "}\nstory: \"" + text + "\""
	}
	for _, x := range []struct{ eye, text, name, want string }{
		{"right", "The left cornea was marked first.", "story-other-eye", "yes"},
		{"right", "The Left eye, that is.", "story-other-eye", "yes"},
		{"right", "A small flap of stroma was left over it.", "story-other-eye", "no"},
		{"right", "The bubble left the right side of the groove.", "story-other-eye", "no"},
		{"right", "The fellow left eye had a graft in 2020.", "story-other-eye", "no"},
		{"right", "The other eye. The left graft was small.", "story-other-eye", "yes"},
		{"left", "Marked OD by the ward.", "story-other-eye", "yes"},
		{"left", "Marked OS by the ward.", "story-other-eye", "no"},
		{"right", "Small vessel, nasal at 3 o'clock.", "story-side-against-hour", "no"},
		{"right", "Small vessel nasally at 9 o'clock.", "story-side-against-hour", "yes"},
		{"left", "Small vessel nasally at 9 o'clock.", "story-side-against-hour", "no"},
		{"left", "A temporal fold at 9:30 o'clock.", "story-side-against-hour", "yes"},
		{"right", "A temporal fold at 9.", "story-side-against-hour", "no"},
		{"right", "A temporal fold at 2.", "story-side-against-hour", "yes"},
		{"right", "A temporal fold at 2 mm from the edge.", "story-side-against-hour", "no"},
		{"right", "A nasal fold at 12 o'clock.", "story-side-against-hour", "no"},
		{"right", "Nasal and temporal sutures at 9 o'clock.", "story-side-against-hour", "no"},
		{"right", "A fold, nasal, then a vessel at 9 o'clock.", "story-side-against-hour", "no"},
		{"right", "The tear at 4:30 temporally was small.", "story-side-against-hour", "yes"},
		{"right", "The tear at 4:30 nasally was small.", "story-side-against-hour", "no"},
		{"right", "Vessel nasal at nine o'clock.", "story-side-against-hour", "yes"},
		{"left", "Vessel nasal at half past nine.", "story-side-against-hour", "no"},
		{"right", "A fold, superotemporal at 2 o'clock.", "story-side-against-hour", "yes"},
		{"right", "A fold, superotemporal at 10 o'clock.", "story-side-against-hour", "no"},
		{"right", "A fold, supero-temporal at 8 o'clock.", "story-side-against-hour", "yes"},
		{"right", "A superior leak at 6 o'clock.", "story-side-against-hour", "yes"},
		{"right", "An inferior leak at 6 o'clock.", "story-side-against-hour", "no"},
		{"right", "The inferior edge at 3 o'clock.", "story-side-against-hour", "no"},
		{"right", "Inferior and superior folds at 12 o'clock.", "story-side-against-hour", "no"},
		{"right", "The temporal wound was seen at 2 weeks and at 3 mm.", "story-side-against-hour", "no"},
		{"right", "A temporal stitch at 10:20.", "story-side-against-hour", "no"}, // a time of day
		{"right", "L eye prepped.", "story-other-eye", "yes"},
		{"left", "L eye prepped.", "story-other-eye", "no"},
		{"left", "Donor from a right eye.", "story-other-eye", "no"},
		{"left", "Donor sutured into the right eye.", "story-other-eye", "yes"},
		{"left", "Right side of the bed was thinner.", "story-other-eye", "no"},
		{"right", "The patient lay on the left side.", "story-other-eye", "no"},
		{"right", "Left side draped.", "story-other-eye", "yes"},
		{"right", "Membrane gave way; converted to PK, second cornea used.", "story-tells-event", "yes"},
		{"right", "Aqueous leaked at 6 o'clock.", "story-tells-event", "yes"},
		{"right", "There was a tiny hole in Descemet.", "story-tells-event", "yes"},
		{"right", "We converted to a full-thickness graft.", "story-tells-event", "yes"},
		{"right", "The second tissue was opened.", "story-tells-event", "yes"},
		{"right", "No leak.", "story-tells-event", "no"},
		{"right", "There was no leak at the end.", "story-tells-event", "no"},
		{"right", "It was not converted.", "story-tells-event", "no"},
		{"right", "It wasn't converted.", "story-tells-event", "no"},
		{"right", "It didn’t leak.", "story-tells-event", "no"},
		{"right", "No hole seen.", "story-tells-event", "no"},
		{"right", "The bed was cleared without perforation.", "story-tells-event", "no"},
		{"right", "The leak test was dry.", "story-tells-event", "no"},
		{"right", "Leak test at the end.", "story-tells-event", "no"},
		{"right", "Tear film poor.", "story-tells-event", "no"},
		{"right", "Pinhole acuity was 6/12.", "story-tells-event", "no"},
		{"right", "A second cornea was in the house.", "story-tells-event", "no"},
		{"right", "Conversion was discussed with the patient.", "story-tells-event", "no"},
		{"right", "The hole in the drape was small.", "story-tells-event", "no"},
		{"right", "The old full-thickness graft was clear at the edge.", "story-tells-event", "no"},
		{"right", "A small tear was seen below.", "story-tells-event", "yes"},
		{"right", "There was no tear, the bed was clear.", "story-tells-event", "no"},
		{"right", "Artificial tears were given.", "story-tells-event", "no"},
		{"right", "Consent included perforation.", "story-tells-event", "no"},
		{"right", "Tissue glue closed it.", "story-treats-tear", "yes"},
		{"right", "An eye patch was put on.", "story-treats-tear", "no"},
		{"right", "No stromal patch was needed.", "story-treats-tear", "no"},
	} {
		if got := said(t, entryOf(t, story(x.eye, x.text)), x.name, Options{}); got != x.want {
			t.Errorf("%s eye, %q: %s is %s", x.eye, x.text, x.name, got)
		}
	}
	hold(t, []example{
		{"eye: {operated: right}\nplan: {instructions: shield over the left eye}", "words-other-eye", "yes"},
		{"eye: {operated: right}\nplan: {vision: patching of the left eye}", "words-other-eye", "no"},
		{"eye: {operated: right}\nplan: {steroid: dexamethasone OD}", "words-other-eye", "no"},
		{"eye: {operated: left}\nepisode: {site: Right Eye Hospital}", "words-other-eye", "no"},
		{"eye: {operated: right}\nevents: [{hour: 9, detail: on the nasal side}, {hour: 3, detail: on the nasal side}, {hour: 9}, {hour: 6, detail: nasal}]", "event-side-against-hour", "yes no - no"},
		{"eye: {operated: left}\nevents: [{hour: '12:30', detail: nasal}, {hour: '11:30', detail: nasal}]", "event-side-against-hour", "yes no"},
		{"story: The left cornea.", "story-other-eye", "-"},
		{"case: silent-story", "story-tells-event", "no"},
		{"story: Pinhole leak at 4 o'clock.\nevents: [{kind: microperforation, hour: 7}]", "story-event-other-hour", "yes"},
		{"story: Pinhole leak at 4 o'clock.\nevents: [{kind: microperforation, hour: 7}, {kind: microperforation, hour: '4:30'}]", "story-event-other-hour", "no"},
		{"story: A small leak showed at half past five.\nevents: [{kind: microperforation, hour: '5:30'}]", "story-event-other-hour", "no"},
		{"story: No leak at 4 o'clock.\nevents: [{kind: microperforation, hour: 7}]", "story-event-other-hour", "no"},
		{"story: A vessel at 4 o'clock.\nevents: [{kind: microperforation, hour: 7}]", "story-event-other-hour", "no"},
		{"story: The paracentesis leaked at 11 o'clock.\nevents: [{kind: microperforation, hour: 7}]", "story-event-other-hour", "no"},
		{"story: Leak at 4 o'clock.\nevents: [{kind: failed-bubble}]", "story-event-other-hour", "-"},
		{"eye: {operated: right}\nevents: [{hour: 6, detail: superior edge}, {hour: 2, detail: superotemporal}]", "event-side-against-hour", "yes yes"},
		{"eye: {operated: left}\nplan: {instructions: sleep on the right side}", "words-other-eye", "no"},
	})
}

// A site that declares itself small says so; without a site nothing is known.
func TestSmallSite(t *testing.T) {
	e := entryOf(t, "case: small-site-or-not")
	for want, site := range map[string]*Site{"-": nil, "yes": {Small: true}, "no": {}} {
		if got := said(t, e, "small-site", Options{Site: site}); got != want {
			t.Errorf("%+v: %s, want %s", site, got, want)
		}
	}
}
