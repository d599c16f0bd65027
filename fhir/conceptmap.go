package fhir

import (
	"github.com/samply/golang-fhir-models/fhir-models/fhir"
)

// ConceptMap is a site mapping as a FHIR R4 resource, from our own code system
// to the site's. It says only that the codes are related: whether one is wider
// than the other is the site's to judge. nil when the mapping is empty.
func ConceptMap(m *Mapping) ([]byte, error) {
	if m == nil || len(m.rows) == 0 {
		return nil, nil
	}
	own := terms().own
	var groups []fhir.ConceptMapGroup
	place := map[string]int{}
	for _, r := range m.rows {
		key := r.system + "|" + r.version
		if _, ok := place[key]; !ok {
			place[key] = len(groups)
			g := fhir.ConceptMapGroup{Source: &own.URL, SourceVersion: &own.Version, Target: ptr(r.system)}
			if r.version != "" {
				g.TargetVersion = ptr(r.version)
			}
			groups = append(groups, g)
		}
		g := &groups[place[key]]
		target := fhir.ConceptMapGroupElementTarget{Code: ptr(r.code), Equivalence: fhir.ConceptMapEquivalenceRelatedto}
		if r.display != "" {
			target.Display = ptr(r.display)
		}
		if words := terms().Eyes[r.side].Words; words != "" {
			target.Comment = ptr("Only for the " + words + ".")
		}
		last := len(g.Element) - 1
		if last < 0 || *g.Element[last].Code != r.concept {
			g.Element = append(g.Element, fhir.ConceptMapGroupElement{Code: ptr(r.concept), Display: &own.byCode[r.concept].Display})
			last++
		}
		g.Element[last].Target = append(g.Element[last].Target, target)
	}
	url := own.URL + "/site-map"
	return alone(fhir.ConceptMap{Url: &url, Version: &own.Version, Name: ptr(own.Name + "SiteMap"), Title: ptr(own.Title + ": site mapping"),
		Status: fhir.PublicationStatusActive, Group: groups}, nil)
}
