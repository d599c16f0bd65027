package schema

import (
	"go.yaml.in/yaml/v3"

	"graftnote/schema/ident"
	"graftnote/schema/quantity"
)

// collector gathers findings; nothing stops at the first.
type collector struct {
	dict     *Dictionary
	findings []Finding
	caseID   string
}

func newCollector() *collector { return &collector{dict: Content()} }

// problem is the common shape of the value parsers' refusals.
type problem struct {
	what, why, fix string
	readings       []string
}

func fromQuantity(p *quantity.Problem) *problem {
	if p == nil {
		return nil
	}
	return &problem{p.What, p.Why, p.Fix, p.Readings}
}

func fromIdent(p *ident.Problem) *problem {
	if p == nil {
		return nil
	}
	return &problem{p.What, p.Why, p.Fix, p.Readings}
}

// finding makes a finding from its rule row. Every rule has a row, so an
// unknown name is a fault of the program.
func (c *collector) finding(rule string, at Pos, path string) Finding {
	r, ok := c.dict.rules[rule]
	if !ok {
		panic("schema: no rule row named " + rule)
	}
	return Finding{Rule: r.Name, Severity: r.Severity, Case: c.caseID, Path: path, Pos: at,
		What: r.What, Why: r.Why, Fix: r.Remedy(), Source: r.Source, State: r.State}
}

func (c *collector) push(f Finding) { c.findings = append(c.findings, f) }

// file raises a finding about the file as a whole. detail is private.
func (c *collector) file(rule string, at Pos, what, detail string) {
	f := c.finding(rule, at, "")
	if what != "" {
		f.What = what
	}
	f.Detail = detail
	c.push(f)
}

// node raises a finding at a node, quoting its line.
func (c *collector) node(d *document, rule string, n *yaml.Node, path string, edit func(*Finding)) {
	f := c.finding(rule, d.pos(n), path)
	f.Excerpt = d.line(n.Line)
	if edit != nil {
		edit(&f)
	}
	c.push(f)
}

// value raises a finding about a text that is no value.
func (c *collector) value(d *document, n *yaml.Node, path, title string, p *problem) {
	c.node(d, "value-unreadable", n, path, func(f *Finding) {
		f.What = title + ": " + p.what
		f.Readings = p.readings
		if p.why != "" {
			f.Why = p.why
		}
		if p.fix != "" {
			f.Fix = p.fix
		}
	})
}
