package fhir

import (
	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/schema"
)

// products makes one BiologicallyDerivedProduct per donor tissue. In R4 no
// element of Procedure may point at it, so the tissue is reached from the
// implants section, from the Observations whose focus it is and from Provenance.
func (b *builder) products() {
	category := fhir.BiologicallyDerivedProductCategoryTissue
	byID := map[string]fhir.Reference{}
	for i, t := range b.e.Tissues {
		role := b.item("tissue", "tissues", i)
		res := fhir.BiologicallyDerivedProduct{Identifier: b.tissueIdentifiers(role, t), ProductCategory: &category,
			ProductCode: b.concept("donor-cornea", b.eye), Status: tissueStatus(t), Quantity: ptr(1)}
		if t.Bank.Recorded() {
			res.Collection = &fhir.BiologicallyDerivedProductCollection{Source: &fhir.Reference{Type: ptr("Organization"), Display: ptr(t.Bank.Value())}}
		}
		if t.Preserved.Recorded() && t.Preservation.Recorded() {
			res.Processing = []fhir.BiologicallyDerivedProductProcessing{{Description: ptr(t.Preservation.Words()), TimeDateTime: ptr(t.Preserved.Text())}}
		}
		if words := storage(t); words != "" {
			res.Storage = []fhir.BiologicallyDerivedProductStorage{{Description: &words}}
		}
		// The same tissue written twice is one product.
		key := *res.Identifier[0].System + "|" + *res.Identifier[0].Value
		ref, known := byID[key]
		if !known {
			ref = b.add(role, res, nil, ours)
			byID[key] = ref
			b.quote("implants", ref)
		}
		b.tissues = append(b.tissues, ref)
	}
}

// tissueIdentifiers are the bank's, each under its own system; a split number
// tells two parts of one cornea apart.
func (b *builder) tissueIdentifiers(role string, t schema.Tissue) []fhir.Identifier {
	var out []fhir.Identifier
	if t.ID.Recorded() {
		value := t.ID.Value()
		if t.Split.Recorded() {
			value += "." + t.Split.Value()
		}
		out = append(out, *identifier(b.o.system("tissue"), value))
	}
	if t.EuropeanCode.Recorded() {
		out = append(out, *identifier(b.o.system("single-european-code"), t.EuropeanCode.Value().String()))
	}
	if t.Donation.Recorded() {
		out = append(out, *identifier(b.o.system("donation"), t.Donation.Value().String()))
	}
	if len(out) == 0 {
		out = append(out, *b.own("case-tissue", role))
	}
	return out
}

// tissueNumbers are what the tissue is recalled by. R4 searches no
// BiologicallyDerivedProduct, so they stand in the Observation of the tissue too,
// as what it is known by besides its own identifier.
func (b *builder) tissueNumbers(item int) []fhir.Identifier {
	use := fhir.IdentifierUseSecondary
	ids := b.tissueIdentifiers(b.item("tissue", "tissues", item), b.e.Tissues[item])
	for i := range ids {
		ids[i].Use = &use
	}
	return ids
}

// tissueStatus: tissue that was grafted, opened, punched or discarded cannot be
// used again. Of tissue that went back only the bank can say whether it may be
// (it may have been returned as contaminated), so nothing is said.
func tissueStatus(t schema.Tissue) *fhir.BiologicallyDerivedProductStatus {
	if !t.Outcome.Recorded() || t.Outcome.Is("returned") {
		return nil
	}
	status := fhir.BiologicallyDerivedProductStatusUnavailable
	return &status
}

func storage(t schema.Tissue) string {
	words := t.Preservation.Words()
	if t.Medium.Recorded() {
		if words != "" {
			words += ", "
		}
		words += t.Medium.Value()
	}
	return words
}
