package registry

import (
	"slices"
	"strings"
	"testing"
)

// TestTrueStateIsOneCode: of several confirmed states the row carries the gravest,
// as one code; the words, the names of who was told and the incident number stay at
// the hospital (the order of the list is common practice, no source).
func TestTrueStateIsOneCode(t *testing.T) {
	c := checked(t, sample(t, "18-bad-night.yaml"))
	row := rowOf(c.Entry(), testKey)
	at := slices.IndexFunc(Columns(), func(c Column) bool { return c.Name == "true_state" })
	if got := row.cells[at]; got != "counts-not-settled" {
		t.Errorf("true_state is %q", got)
	}
	whole := strings.ToLower(strings.Join(row.cells, ","))
	said := []string{"inc-fic", "0412", "medical", "director", "coordinator", "needle", "image", "only", "20:25"}
	for _, x := range c.Entry().TrueStates {
		said = append(said, x.Reason.Text(), x.Told.Text(), x.ToldAt.Text(), x.Incident.Text())
	}
	for _, s := range said {
		if s != "" && strings.Contains(whole, strings.ToLower(s)) {
			t.Errorf("the row holds %q", s)
		}
	}
	plain := checked(t, sample(t, firstSample))
	if got := rowOf(plain.Entry(), testKey).cells[at]; got != doesNotApply {
		t.Errorf("without a state it is %q", got)
	}
}

// Figures from the measurement sheet of the other eye are not this eye's, though
// the signer may confirm that the sheet was the wrong one.
func TestSheetOfTheOtherEyeStaysHome(t *testing.T) {
	text := sample(t, firstSample)
	c := checked(t, strings.Replace(text, "before: {", "before: {eye: left, ", 1)+"true-states: {state: papers-of-other-eye, reason: the sheet was the fellow eye's}\n")
	if !c.Complete() {
		t.Fatalf("the entry blocks: %v", c.Gaps())
	}
	row := rowOf(c.Entry(), testKey)
	for i, col := range Columns() {
		of := strings.HasPrefix(col.From, "before.") || col.Name == "trephine_depth_percent"
		if cell := row.cells[i]; of && !col.missing[cell] {
			t.Errorf("%s is %q", col.Name, cell)
		}
	}
}
