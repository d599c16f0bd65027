// Document bundles: Composition first, and the sections of an operative note.

// HL7 Operative Note (C-CDA on FHIR, profile Operative-Note; template
// 2.16.840.1.113883.10.20.22.1.7): these eight sections are 1..1.
const required = {
  '59774-0': 'anaesthesia',
  '55109-3': 'complications',
  '10219-4': 'preoperative diagnosis',
  '59770-8': 'estimated blood loss',
  '59776-5': 'findings',
  '59773-2': 'specimens taken',
  '10218-6': 'postoperative diagnosis',
  '29554-3': 'procedure description',
  // Optional there, required here: a graft has an indication and a donor tissue.
  '59768-2': 'indication',
  '59771-6': 'implants',
}
// Surgical operation note, and its outpatient variant.
const types = ['11504-8', '34137-0']

export function checkDocument(bundle, error) {
  const comp = bundle.entry?.[0]?.resource
  if (comp?.resourceType !== 'Composition') return error('$.entry[0]', 'first entry of a document is not a Composition')
  if (!bundle.identifier?.system || !bundle.identifier?.value) error('$', 'document without identifier (bdl-9)')
  if (!bundle.timestamp) error('$', 'document without timestamp (bdl-10)')
  const loinc = c => (c?.coding ?? []).filter(x => x.system === 'http://loinc.org').map(x => x.code)
  if (!loinc(comp.type).some(c => types.includes(c))) error('$.entry[0]', 'Composition.type is not a surgical operation note')
  const count = {}
  const walk = (sections, at) => sections?.forEach((s, i) => {
    const here = `${at}.section[${i}]`
    for (const c of loinc(s.code)) count[c] = (count[c] ?? 0) + 1
    if (!s.title?.trim()) error(here, 'section without title')
    if (loinc(s.code).length === 0 && !s.code?.coding?.length) error(here, 'section without code')
    if (!s.text?.div) error(here, 'section without text')
    walk(s.section, here)
  })
  walk(comp.section, '$.entry[0].resource')
  for (const [code, name] of Object.entries(required)) {
    if ((count[code] ?? 0) !== 1) error('$.entry[0]', `section ${code} (${name}) occurs ${count[code] ?? 0} times, must be once`)
  }
}
