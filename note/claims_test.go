package note_test

import (
	"os"
	"strings"
	"testing"

	"graftnote/schema"
)

// altered reads the plain sample with some of its text replaced, one pair after
// the other; a text that is not there is a fault of the test.
func altered(t *testing.T, pairs ...string) schema.Checked {
	t.Helper()
	b, err := os.ReadFile("../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			t.Fatalf("the sample has no %q", pairs[i])
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	c, err := schema.Check(schema.Read(schema.Source{Name: "changed.yaml", Data: []byte(text)}, asked).Cases[0], asked, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The drawing says from where the eye is seen, and marks a recorded seat. The
// right and left of a pair of eyes mirror each other; the head is at 12.
func TestDiagramTitleAndSeat(t *testing.T) {
	for _, c := range []struct {
		eye, seat string
		hour      float64
	}{
		{"right", "superior", 12}, {"left", "superior", 12}, {"right", "temporal", 9}, {"left", "temporal", 3},
		{"right", "superotemporal", 10.5}, {"left", "superotemporal", 1.5}, {"right", "superonasal", 1.5}, {"left", "superonasal", 10.5},
	} {
		d := built(t, altered(t, "operated: right", "operated: "+c.eye, "listed: right", "listed: "+c.eye, "episode: {", "episode: {surgeon-seat: "+c.seat+", "))
		if title := strings.ToUpper(c.eye[:1]) + c.eye[1:] + " eye, seen facing the patient, 12 o'clock superior"; d.Diagram.Title != title {
			t.Errorf("title %q, want %q", d.Diagram.Title, title)
		}
		if d.Diagram.Seat == nil || *d.Diagram.Seat != c.hour {
			t.Errorf("%s eye, seat %s: %v, want %v", c.eye, c.seat, d.Diagram.Seat, c.hour)
		}
		if !strings.Contains(d.Text(), "The surgeon sat "+c.seat[:5]) {
			t.Errorf("%s: the seat is not told", c.seat)
		}
	}
	if d := built(t, altered(t)); d.Diagram.Seat != nil {
		t.Error("a seat is drawn that nobody recorded")
	}
}

// What was printed beyond the recorded word: an instrument, a fluid, a cause, a
// material, and articles that no reader of the trade would write.
func TestNoSentenceSaysMoreThanItsWord(t *testing.T) {
	for _, c := range []struct{ from, to, want, never string }{
		{"excision: quadrants", "excision: quadrants", "The stroma was excised in quadrants;", "scissors"},
		{"chamber-fill: none", "chamber-fill: none", "No air or gas was left in the anterior chamber", "fluid was left"},
		{"endothelium-diseased: no", "endothelium-diseased: no", "No endothelial disease was recorded before surgery.", "was present"},
		{"signs: chamber-bubble-to-periphery", "signs: forward-bulge", "Signs seen: a forward bulge.", "pressure"},
		{"method: suction", "method: excimer", "trephined with an excimer laser", "a excimer"},
		{"opened-with: blade", "opened-with: scissors", "The bubble was opened with scissors.", "a scissors"},
		{"opened-with: blade", "opened-with: needle", "The bubble was opened with a needle.", "an needle"},
		{"given-by: anaesthetist", "given-by: nurse", "given by a nurse", "anaesthetic nurse"},
		{"membrane: removed-complete", "membrane: left", "left in place", "deliberately"},
		{"antisepsis: 5 %", "antisepsis: 5 %, compression: none", "No ocular compression and no osmotic agent were used.", "was used"},
	} {
		text := strings.Join(strings.Fields(built(t, altered(t, c.from, c.to)).Text()), " ")
		if !strings.Contains(text, c.want) || strings.Contains(text, c.never) {
			t.Errorf("%s: no %q, or %q, in the note", c.to, c.want, c.never)
		}
	}
}

// The two attempts of one operation are said as a number of the language.
func TestAttemptsInWords(t *testing.T) {
	second := "result: emphysema-only}\n  - {medium: air, instrument: needle-bevel-down, gauge: 27 G, hour: 2 o'clock, stopped: chamber-bubble-moved, result: full-bubble}"
	text := built(t, altered(t, "result: full-bubble}", second)).Text()
	if !strings.Contains(text, "Separation was attempted twice;") {
		t.Error("two attempts are not said as twice")
	}
}
