package main

import (
	"os"
	"strings"
	"testing"
)

// At a terminal each state is asked for by itself, each part of its confirmation
// is typed, nothing is offered, and a slip is asked again.
func TestConfirmAtATerminal(t *testing.T) {
	d := newDesk(t)
	entry, err := os.ReadFile("../../testdata/entries/01-double-bubble.yaml") // right eye, no open point
	if err != nil {
		t.Fatal(err)
	}
	wrong := strings.NewReplacer("operated: right", "operated: left", "eye: right", "eye: left", "counts-correct: yes", "counts-correct: no").Replace(string(entry))
	d.write("case.yaml", wrong)
	sign := []string{"sign", d.at("case.yaml"), "--as", d.at("voss.key")}
	const eye = "true\nThe list was turned over.\nthe theatre coordinator\n18.20 h\n18:20\n\nnot yet given\n"
	const counts = "yes\ntrue\nOne needle was not found.\nthe medical director\n19:05\n2026-09-09\nINC-77\n"
	for _, x := range []struct {
		name, typed string
		secrets     []string
		code        int
		out         string
	}{
		{"nobody says that it is true", "\n", nil, statusBlocked, "is left unsigned"},
		{"no reason", "true\n\n", nil, statusBlocked, "is left unsigned"},
		{"nobody was told", "true\nThe list was turned over.\n\n", nil, statusBlocked, "is left unsigned"},
		{"the second state is not true", eye + "\n", nil, statusBlocked, "is left unsigned"},
		{"no eye", eye + counts + "\n", nil, statusBlocked, "is left unsigned"},
		{"signed", eye + counts + "left\n", []string{testPassphrase}, statusDone, "Signed: 1 note."},
	} {
		d.secrets = x.secrets
		code, stdout, stderr := d.run(x.typed, sign...)
		if code != x.code || !strings.Contains(stdout, x.out) {
			t.Errorf("%s: status %d\n%s\n%s", x.name, code, stdout[max(0, len(stdout)-300):], stderr)
		}
	}
	_, stdout, _ := d.run("", "casebook", "show", "a1k7-double-bubble", "--entry")
	for _, said := range []string{`"state":"wrong-side"`, `"reason":"The list was turned over."`, `"told-at":"18:20"`, `"incident":"not yet given"`, `"state":"counts-not-settled"`, `"told-on":"2026-09-09"`, `"incident":"INC-77"`} {
		if !strings.Contains(stdout, said) {
			t.Errorf("the signed entry lacks %s\n%s", said, stdout)
		}
	}
	if now, err := os.ReadFile(d.at("case.yaml")); err != nil || string(now) != wrong {
		t.Errorf("the file of the surgeon was changed: %v", err)
	}
}

// What the file confirms is affirmed by the signer, state by state.
func TestAffirmAtATerminal(t *testing.T) {
	d := newDesk(t)
	sign := []string{"sign", "../../testdata/entries/18-bad-night.yaml", "--as", d.at("voss.key")}
	for _, x := range []struct {
		typed string
		code  int
		out   string
	}{
		{"\n", statusBlocked, "is left unsigned"},
		{"true\ntrue\n\n", statusBlocked, "is left unsigned"},
		{"true\nyes\ntrue\ntrue\nread again\nright\n", statusDone, "Signed: 1 note."},
	} {
		d.secrets = []string{testPassphrase}
		if code, stdout, stderr := d.run(x.typed, sign...); code != x.code || !strings.Contains(stdout, x.out) {
			t.Errorf("%q: %d\n%s\n%s", x.typed, code, stdout[max(0, len(stdout)-300):], stderr)
		}
	}
}

// The note of a wrong side says so first, and its eye and drawing are those of the
// eye that was operated.
func TestWrongSideNote(t *testing.T) {
	d := newDesk(t)
	entry, err := os.ReadFile("../../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer("operated: right", "operated: left", "eye: right", "eye: left").Replace(string(entry))
	d.write("open.yaml", text)
	if code, stdout, _ := runIn(d.env, "", "text", d.at("open.yaml")); code != statusBlocked || !strings.Contains(stdout, "Eye: EYE NOT AGREED") {
		t.Errorf("unconfirmed: %d\n%s", code, stdout[:min(len(stdout), 600)])
	}
	d.write("case.yaml", text+"true-states: {state: wrong-side, reason: The list was turned over., told: the patient, told-at: 18:20, incident: not yet given}\n")
	for _, command := range []string{"text", "brief"} {
		code, stdout, stderr := runIn(d.env, "", command, d.at("case.yaml"))
		flat := strings.Join(strings.Fields(stdout), " ")
		if code != statusDone || !strings.Contains(flat, "! The eye operated is not the eye on the consent and the list: The list was turned over. Operated: left eye; on the consent and the list: right eye. Told: the patient, 18:20. Incident number: not yet given.") {
			t.Errorf("%s: %d %s\n%s", command, code, stderr, flat[:min(len(flat), 900)])
		}
		if !strings.Contains(flat, "LEFT EYE") || strings.Contains(flat, "NOT AGREED") || strings.Contains(flat, "No diagram is drawn") {
			t.Errorf("%s: the eye\n%s", command, flat[:min(len(flat), 900)])
		}
	}
}
