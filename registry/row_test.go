package registry

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"strings"
	"testing"

	"graftnote/schema"
)

var update = flag.Bool("update", false, "rewrite the golden row")

const golden = "../testdata/golden/01-double-bubble.row.csv"

func TestGoldenRow(t *testing.T) {
	got := written(t, []Row{rowFrom(t, sample(t, firstSample))}, Options{})
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("the row changed; read the difference, then run with -update:\n%s", got)
	}
}

// Read off the sample entry by eye: what a registry clerk would type.
func TestFirstSampleCellByCell(t *testing.T) {
	r := rowFrom(t, sample(t, firstSample))
	for column, want := range map[string]string{
		"eye": "right", "sex": "female", "age_band": "20 to 29", // born 2002-03-14, operated 2026-09-08: 24
		"operation_year": "2026", "fellow_eye": "keratoconus", "lens_status": "phakic", "earlier_surgery": "none",
		"earlier_graft_failed": "NA", // asked only after an earlier graft
		"setting":              "NS", // optional and left open
		"procedure_planned":    "double-bubble", "procedure_performed": "double-bubble", "techniques_tried": "air",
		"indication": "keratoconus", "endothelial_disease": "no", "kc_stage": "3", "hydrops": "none", "scar": "none",
		"corrected_before_logmar": "0.70", "corrected_before_class": "chart", "corrected_before_letters": "NA",
		"unaided_before_logmar": "NS", "k_mean_before_d": "54.10", "thinnest_um": "372", "ring_um": "540",
		"white_to_white_mm": "11.80", "chamber_depth_mm": "3.50", "host_diameter_mm": "7.75", "trephine_depth_um": "360",
		"trephine_depth_percent": "66.7", // 360 / 540
		"chamber_bubble":         "before-injection", "chamber_bubble_mm": "3.50", "chamber_bubble_ml": "0.030",
		"attempts": "1", "attempts_air": "1", "attempts_viscoelastic": "0", "attempts_fluid": "0",
		"last_attempt_result": "full-bubble", "last_attempt_volume_ml": "0.600", "last_attempt_tip_depth_percent": "NS",
		"separation": "complete", "bubble_type": "type-1", "plane": "pre-descemetic", "debulked_fraction": "0.67",
		"residual_um": "NA", "residual_by": "NA", // no stroma was left, so nobody judged it
		"big_bubble_mm":  "NS", // there was a bubble, and its size was left open
		"donor_age_band": "60 to 69", "preservation": "hypothermic", "storage_days": "5",
		"donor_ecd": "2450", "donor_diameter_mm": "8.00", "donor_membrane": "removed-complete",
		"disparity_mm": "0.25", "tissues_opened": "1", "tissues_not_grafted": "0",
		"suture_pattern": "interrupted", "interrupted_count": "16", "running_bites": "NA", "suture_gauge": "size 10-0",
		"complications_none": "yes", "converted": "no", "conversion_reason": "NA", "microperforations": "0",
		"macroperforations": "0", "largest_tear_mm": "NA", "perforation_management": "NA", "events_total": "0",
		"chamber_fill": "none", "chamber_fill_percent": "NA", "surgeon_grade": "consultant", "dictionary_version": "2", "true_state": "NA",
	} {
		if got := cell(t, r, column); got != want {
			t.Errorf("%s: %s, want %s", column, got, want)
		}
	}
}

// Sample 6 is the trade's worked case of a conversion: first tissue stripped,
// second grafted at full thickness.
func TestConversionRow(t *testing.T) {
	r := rowFrom(t, sample(t, "06-conversion.yaml"))
	for column, want := range map[string]string{
		"converted": "yes", "procedure_performed": "converted-penetrating", "complications_none": "no",
		"macroperforations": "1", "tissues_not_grafted": "1", "tissues_opened": "2",
	} {
		if got := cell(t, r, column); got != want {
			t.Errorf("%s: %s, want %s", column, got, want)
		}
	}
	if planned := cell(t, r, "procedure_planned"); planned == "converted-penetrating" {
		t.Error("conversion changed the planned procedure, which is the denominator of an audit")
	}
}

func TestBothEyesOfOnePersonShareThePersonKey(t *testing.T) {
	first := rowFrom(t, sample(t, firstSample))
	second := rowFrom(t, changed(t, firstSample, "a1k7-double-bubble", "b2k7-double-bubble",
		"listed: right, operated: right", "listed: left, operated: left"))
	if cell(t, first, "person_key") != cell(t, second, "person_key") {
		t.Error("two eyes of one person look like two persons")
	}
	if first.Key() == second.Key() {
		t.Error("two operations share a row key")
	}
	if again := rowFrom(t, sample(t, firstSample)); again.Key() != first.Key() {
		t.Error("the row key changes from one run to the next")
	}
}

func TestNoRow(t *testing.T) {
	whole := checked(t, sample(t, firstSample))
	for name, c := range map[string]struct {
		entry schema.Checked
		o     Options
		want  error
	}{
		"unchecked":       {schema.Checked{}, Options{Key: testKey}, ErrUnchecked},
		"no key":          {whole, Options{}, ErrNoKey},
		"short key":       {whole, Options{Key: testKey[:31]}, ErrNoKey},
		"draft":           {checked(t, changed(t, firstSample, "operated: right, ", "")), Options{Key: testKey}, ErrDraft},
		"consent no":      {checked(t, changed(t, firstSample, "registry: yes", "registry: no")), Options{Key: testKey}, ErrNoConsent},
		"consent unknown": {checked(t, changed(t, firstSample, "registry: yes", `registry: "not recorded: form lost by Ines Calloway"`)), Options{Key: testKey}, ErrNoConsent},
		"name column":     {whole, Options{Key: testKey, Columns: []string{"eye", "patient_name"}}, ErrColumn},
		"field path":      {whole, Options{Key: testKey, Columns: []string{"patient.id"}}, ErrColumn},
		"column twice":    {whole, Options{Key: testKey, Columns: []string{"eye", "eye"}}, ErrColumn},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Make(c.entry, c.o)
			if !errors.Is(err, c.want) {
				t.Fatalf("%v, want %v", err, c.want)
			}
			if r.cells != nil {
				t.Error("cells beside an error")
			}
			for _, private := range []string{"Calloway", "FIC-0101", "2002", "2026", "T-FIC-9001", "patient_name"} {
				if strings.Contains(err.Error(), private) {
					t.Errorf("the message carries %q", private)
				}
			}
		})
	}
}

func TestDraftErrorCountsTheGaps(t *testing.T) {
	c := checked(t, changed(t, firstSample, "eye: {listed: right, operated: right, fellow", "eye: {fellow", "depth: 360 µm, ", ""))
	_, err := Make(c, Options{Key: testKey})
	var draft *DraftError
	if !errors.As(err, &draft) || draft.Gaps != len(c.Gaps()) || draft.Gaps < 2 {
		t.Fatalf("%v with %d gaps", err, len(c.Gaps()))
	}
	if one := (&DraftError{Gaps: 1}).Error(); !strings.Contains(one, "1 finding blocks") {
		t.Error(one)
	}
}

func TestSiteChoosesColumns(t *testing.T) {
	o := Options{Key: testKey, Columns: []string{"plane", "eye", "row_key"}}
	lines := readBack(t, written(t, []Row{rowFrom(t, sample(t, firstSample))}, o))
	if got := strings.Join(lines[0], ","); got != "row_key,eye,plane" {
		t.Errorf("header %s: the order is fixed, whatever the order of the choice", got)
	}
	if lines[1][1] != "right" || lines[1][2] != "pre-descemetic" {
		t.Errorf("cells %v", lines[1])
	}
	var b bytes.Buffer
	if err := Write(&b, nil, Options{Columns: []string{"nothing"}}); !errors.Is(err, ErrColumn) || b.Len() > 0 {
		t.Errorf("%v, %d bytes", err, b.Len())
	}
}
