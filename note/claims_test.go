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
