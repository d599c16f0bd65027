package main

import (
	"crypto/sha256"
	"errors"
	"regexp"
	"runtime"
	"strconv"

	"graftnote/schema"
)

// survey is the first pass over the entries of a run. It keeps of each entry the
// keys that are compared between entries and the name of its products, so that
// ten thousand entries need little memory; the second pass reads them again. A
// run over few files keeps them instead.
type survey struct {
	app   *app
	given given
	batch *schema.Batch
	files []*surveyed
	cases int
	keep  bool
	more  func() bool // false once the user has stopped the run
	names map[string]int
	// techniques: a file of habits is checked as one, not as a case.
	techniques bool
}

// surveyed is one file of the run.
type surveyed struct {
	input
	fault    *fault // it could not be read
	findings []schema.Finding
	sum      digest
	// technique: the file is a standing technique, and its findings are those of one.
	technique bool
	names     []string // of the products of each case
	reading   *schema.Reading
	source    schema.Source // kept for standard input only
}

// keepFiles is the number of files up to which the readings stay in memory.
const keepFiles = 64

// checkTechniques makes a survey recognise a standing technique.
func checkTechniques(s *survey) { s.techniques = true }

// survey reads all files once.
func (a *app) survey(files []input, g given, more func() bool, tick func(), options ...func(*survey)) *survey {
	s := &survey{app: a, given: g, batch: schema.NewBatch(), keep: len(files) <= keepFiles, more: more, names: map[string]int{}}
	for _, set := range options {
		set(s)
	}
	inOrder(len(files), runtime.GOMAXPROCS(0), more,
		func(i int) *surveyed {
			f := &surveyed{input: files[i]}
			f.fault = safely(func() error { return s.read(f) })
			return f
		},
		func(_ int, f *surveyed) {
			s.enter(f)
			tick()
		})
	return s
}

func (s *survey) read(f *surveyed) error {
	src, err := s.app.load(f.input)
	if err != nil {
		return unread(f.shown, err)
	}
	if f.stdin {
		f.source = src
	}
	f.sum = sha256.Sum256(src.Data)
	f.reading = schema.Read(src, s.given.options)
	f.findings = f.reading.Findings
	if s.techniques && schema.LooksLikeTechnique(f.reading) {
		t := schema.ReadTechnique(src, s.given.options)
		f.reading = &schema.Reading{Name: f.reading.Name}
		f.findings, f.technique = append(t.Findings, t.Contradictions(s.given.options)...), true
	}
	return nil
}

// enter notes a file in the order of the run. Products of entries that share an
// identifier must not replace each other: the second gets a number.
func (s *survey) enter(f *surveyed) {
	s.files = append(s.files, f)
	if f.fault != nil {
		f.reading = nil
		return
	}
	for _, cs := range f.reading.Cases {
		s.batch.Add(cs)
		name := s.caseName(cs)
		s.names[name]++
		if n := s.names[name]; n > 1 {
			name += "." + strconv.Itoa(n)
		}
		f.names = append(f.names, name)
	}
	s.cases += len(f.reading.Cases)
	if !s.keep {
		f.reading = nil
	}
}

// safeID is what may name a file on every kind of computer. The same form is
// asked of the entry, but a name is never built on the strength of that.
var safeID = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{4,38}[a-z0-9]$`)

// caseName names the products of a case: by its identifier, or by the digest of
// the entry when it has none that can.
func (s *survey) caseName(cs *schema.Case) string {
	if c := cs.Entry.Case; c.Recorded() && safeID.MatchString(c.Value()) && !cs.Entry.CaseNamesPatient() {
		return c.Value()
	}
	checked, err := schema.Check(cs, s.given.options, nil)
	if err != nil {
		return "draft"
	}
	return "draft-" + checked.Digest()[:12]
}

// cases gives the cases of a file again.
func (s *survey) casesOf(f *surveyed) ([]*schema.Case, error) {
	if f.fault != nil || f.technique {
		return nil, nil
	}
	if r := f.reading; r != nil {
		f.reading = nil
		return r.Cases, nil
	}
	src := f.source
	if !f.stdin {
		var err error
		if src, err = s.app.load(f.input); err != nil {
			return nil, unread(f.shown, err)
		}
	}
	if sha256.Sum256(src.Data) != f.sum {
		return nil, &fault{status: statusIO, text: f.shown + " was changed while graftnote read it", hints: []string{"save it and run the command again"}}
	}
	return schema.Read(src, s.given.options).Cases, nil
}

// safely runs one piece of work and turns a panic into a fault without values:
// one bad entry never stops the rest.
func safely(work func() error) (f *fault) {
	defer func() {
		if recover() != nil {
			f = internalFault(panicPlace())
		}
	}()
	err := work()
	if err == nil {
		return nil
	}
	if errors.As(err, &f) {
		return f
	}
	return &fault{status: statusIO, text: err.Error()}
}

// tally counts what a run found.
type tally struct {
	cases, complete       int
	blocks, look, remarks int
	confirmed             int // would block, and are confirmed as true
	unread                int // files that could not be read
	stopped               bool
	unwritten             int // cases whose products could not be made or written
}

func (t *tally) add(found []schema.Finding) {
	b, l, r := schema.Count(found)
	t.blocks, t.look, t.remarks, t.confirmed = t.blocks+b, t.look+l, t.remarks+r, t.confirmed+len(found)-b-l-r
}
