package report

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"graftnote/note"
	"graftnote/registry/figures"
)

// printed is what a reader has: the printed counts by table, row and column, and the
// equations that the tables state.
type printed struct {
	cells map[string]figures.Cell
	eq    [][2][]term
}

func (p *printed) put(name, text string) term {
	c := figures.Cell{Masked: text == mark}
	if !c.Masked {
		c.Count, _ = strconv.Atoi(text)
	}
	p.cells[name] = c
	return p.at(name)
}

// at is a printed count; what is not printed is zero.
func (p *printed) at(name string) term { return term{name, p.cells[name]} }

func (p *printed) all(names ...string) (out []term) {
	for _, n := range names {
		out = append(out, p.at(n))
	}
	return out
}

func (p *printed) equal(whole term, parts ...term) {
	p.eq = append(p.eq, [2][]term{parts, {whole}})
}

// read takes the counts of a report, with the sums of its tables.
func read(r note.Report) *printed {
	p := &printed{cells: map[string]figures.Cell{}}
	for _, f := range r.Facts {
		if f.Label == "Operations" {
			p.put("operations", f.Value)
		}
	}
	p.put("seen", seenIn(r))
	for _, s := range r.Sections {
		for _, b := range s.Blocks {
			switch {
			case b.Table == nil || b.Table.Caption == "Published figures":
			case b.Table.Header[len(b.Table.Header)-1] == "All":
				p.cross(s.Key, b.Table)
			default:
				for _, row := range b.Table.Rows {
					for j, h := range b.Table.Header[1:] {
						if slices.Contains([]string{"Eyes", "Of", "Eyes on the chart", "Number", "Complete or not asked", "Left out with a reason", "Left open"}, h) {
							p.put(s.Key+"/"+row[0]+"/"+h, row[j+1])
						}
					}
				}
				var n, failed string
				if _, err := fmt.Sscanf(b.Table.Caption, "Graft survival: %s grafts followed, %s failed", &n, &failed); err == nil {
					p.equal(p.put("followed", n), p.at("seen"))
					p.equal(p.put("failed", failed), p.at("events/Graft failed/Eyes"))
				}
			}
		}
	}
	return p
}

func seenIn(r note.Report) string {
	for _, s := range r.Sections {
		for _, b := range s.Blocks {
			if b.Table != nil && strings.HasPrefix(b.Table.Caption, "Seen at any later visit") {
				return strings.Fields(strings.TrimPrefix(b.Table.Caption, "Seen at any later visit, of "))[0]
			}
		}
	}
	return "0"
}

// cross reads a table of rows and columns: every row and column adds up.
func (p *printed) cross(key string, t *note.ReportTable) {
	if key == "separation" && strings.Contains(t.Caption, "injected") {
		key = "medium"
	}
	cols := make([][]term, len(t.Header))
	for _, row := range t.Rows {
		var cells []term
		for j, text := range row[1:] {
			x := p.put(key+"/"+row[0]+"/"+t.Header[j+1], text)
			if row[0] == "All" {
				p.equal(x, cols[j]...)
			}
			cols[j] = append(cols[j], x)
			cells = append(cells, x)
		}
		p.equal(cells[len(cells)-1], cells[:len(cells)-1]...)
	}
	p.equal(p.at("operations"), p.at(key+"/All/All"))
}

// block names the cells where rows and columns of a cross table meet.
func block(key string, rows, cols []string) (out []string) {
	for _, r := range rows {
		for _, c := range cols {
			out = append(out, key+"/"+r+"/"+c)
		}
	}
	return out
}

// state sets up what the words of the rates and fields say of the cross tables.
func (p *printed) state() (rates []string) {
	any := []string{"All"}
	air := []string{airOnly, airAnd}
	rate := func(key, name string, events, of []string) {
		rates = append(rates, key+"/"+name)
		if events != nil {
			p.equal(p.at(key+"/"+name+"/Eyes"), p.all(events...)...)
		}
		if of != nil {
			p.equal(p.at(key+"/"+name+"/Of"), p.all(of...)...)
		}
	}
	w := content()
	rate("separation", "Separated by air alone, of eyes given air", block("medium", obtainedSep, air[:1]), block("medium", triedSep, air))
	rate("separation", "Separated by any medium, of eyes given air", block("medium", obtainedSep, air), block("medium", triedSep, air))
	rate("separation", "Separated, of eyes given air and another medium", block("medium", obtainedSep, air[1:]), block("medium", triedSep, air[1:]))
	types := []string{"type 1", "type 2", "mixed"}
	for _, t := range types {
		rate("separation", "Bubble: "+t+", of known types", block("separation", any, []string{t}), block("separation", any, types))
	}
	for _, r := range triedSep {
		p.equal(p.at("separation/"+r+"/All"), p.at("medium/"+r+"/All"))
	}
	micro, macro := "events/Microperforation, no larger one", "events/Macroperforation"
	rate("events", "Any perforation of Descemet membrane", []string{micro + "/Eyes", macro + "/Eyes"}, []string{micro + "/Of"})
	rate("events", "Macroperforation", nil, []string{micro + "/Of"})
	rate("events", "Microperforation, no larger one", nil, nil)
	rate("events", "Conversion to penetrating keratoplasty", []string{"operations/All/converted to penetrating"}, []string{"operations"})
	rate("events", "Graft failed", nil, []string{"seen"})
	for _, f := range append(slices.Clone(w.Events), w.Later...) {
		rate("events", f.Title, nil, nil)
	}
	chart := []string{atLine, below}
	lasting := []string{atLine, below, offChart}
	rate("acuity", "Acuity of 0.3 logMAR or better before surgery", block("acuity", chart[:1], any), block("acuity", lasting, any))
	rate("acuity", "Acuity of 0.3 logMAR or better after surgery", block("acuity", any, chart[:1]), block("acuity", any, lasting))
	for when, of := range map[string][]string{"Before surgery": block("acuity", chart, any), "After surgery": block("acuity", any, chart), "Change in the same eyes": block("acuity", chart, chart)} {
		p.equal(p.at("acuity/"+when+"/Eyes on the chart"), p.all(of...)...)
	}
	for name := range p.cells {
		field, ok := strings.CutSuffix(name, "/Complete or not asked")
		if ok {
			p.equal(p.at("operations"), p.all(name, field+"/Left out with a reason", field+"/Left open")...)
		}
	}
	for _, f := range []struct {
		title, key string
		side       int
	}{{"indication", "operations", 0}, {"procedure_performed", "operations", 1}, {"separation", "separation", 0}, {"bubble_type", "separation", 1}, {"corrected_before_logmar", "acuity", 0}} {
		field := "completeness/" + w.title(f.title)
		if _, ok := p.cells[field+"/Complete or not asked"]; !ok {
			continue
		}
		side := func(name string) string {
			if f.side == 1 {
				return f.key + "/All/" + name
			}
			return f.key + "/" + name + "/All"
		}
		p.equal(p.at(field+"/Left out with a reason"), p.at(side(states[reasoned])))
		p.equal(p.at(field+"/Left open"), p.at(side(states[silent])))
	}
	return rates
}

// blur makes rows less whole: any cell may be left out, for any cause.
func blur(d Data, seed uint64) Data {
	r := rand.New(rand.NewPCG(seed, 77))
	share := 2 + r.IntN(30)
	for _, rows := range [][]Row{d.Rows, d.FollowUps} {
		for _, row := range rows {
			cells := row.(Cells)
			for _, name := range []string{"indication", "procedure_performed", "separation", "bubble_type", "attempts_air", "attempts_viscoelastic", "microperforations", "macroperforations",
				"corrected_before_class", "corrected_class", "refraction_before_j0_d", "refraction_j0_d", "rejection", "bleedings", "sex"} {
				if _, ok := cells[name]; !ok || r.IntN(share) > 0 {
					continue
				}
				cells[name] = []string{"NR", "NS", "NM", "WH"}[r.IntN(4)]
				switch name {
				case "corrected_before_class":
					cells["corrected_before_logmar"] = cells[name]
				case "corrected_class":
					cells["corrected_logmar"] = []string{"NS", "0.10"}[r.IntN(2)]
					cells[name] = []string{"CF", "chart"}[r.IntN(2)]
				}
			}
		}
	}
	return d
}

// Nobody who has the page can work out a hidden count of it: neither from the sums
// of its tables nor from the words of its rates ("12 of 15" tells the 3, CMS cell
// size suppression policy, resdac.org/node/1506). The page is read as it is
// printed, and solved by elimination that knows nothing of how it was masked.
func TestPageCannotBeSolved(t *testing.T) {
	hidden, shown := 0, 0
	for seed := range uint64(80) {
		d := blur(sample(seed, 6+int(seed*seed)%230), seed)
		minimum := figures.Minimums()[seed%3]
		p := read(build(t, d, Options{Minimum: minimum}))
		rates := p.state()
		for name, c := range p.cells {
			if c.Masked {
				hidden++
			} else if shown++; c.Count > 0 && c.Count < minimum {
				t.Fatalf("seed %d: %s shows %d", seed, name, c.Count)
			}
		}
		for _, name := range rates {
			events, of := p.cells[name+"/Eyes"], p.cells[name+"/Of"]
			if _, ok := p.cells[name+"/Of"]; !ok && (of.Count > 0 || strings.HasPrefix(name, "sep") || strings.HasPrefix(name, "acu")) {
				t.Fatalf("%s is not printed", name)
			}
			if rest := of.Count - events.Count; !events.Masked && !of.Masked && rest > 0 && rest < minimum {
				t.Fatalf("seed %d: %s, %d of %d tells %d", seed, name, events.Count, of.Count, rest)
			}
		}
		if got := determined(p.eq); len(got) > 0 {
			t.Fatalf("seed %d, minimum %d: %v", seed, minimum, got)
		}
	}
	if hidden < 1500 || shown < 1500 {
		t.Errorf("%d counts were hidden and %d shown", hidden, shown)
	}
}
