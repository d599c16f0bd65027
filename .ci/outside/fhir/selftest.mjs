// node selftest.mjs: the checker is itself checked. The two valid fixtures must
// pass, and each broken variant of them must be refused for the reason given.

import { readFileSync } from 'node:fs'
import { checkResourceText } from './checker.mjs'
import { loincDigitOK, unitOK, verhoeffOK } from './codes.mjs'

const load = name => readFileSync(new URL(`fixtures/${name}`, import.meta.url), 'utf8')
const bundle = load('valid.bundle.json')
const document = load('valid.document.json')
const res = (b, type) => b.entry.find(e => e.resource.resourceType === type).resource
const entry = (b, type) => b.entry.find(e => e.resource.resourceType === type)

// name, source text, change, reason expected among the errors
const broken = [
  // the sixteen of the library comparison
  ['Procedure without status', bundle, b => delete res(b, 'Procedure').status, /status/],
  ['Procedure without subject', bundle, b => delete res(b, 'Procedure').subject, /subject/],
  ['status outside event-status', bundle, b => { res(b, 'Procedure').status = 'done' }, /done/],
  ['subject is a Practitioner', bundle, b => { res(b, 'Procedure').subject = { ...res(b, 'Procedure').performer[0].actor } }, /reference to Practitioner/],
  ['unknown property', bundle, b => { res(b, 'Procedure').surgeon = 'x' }, /surgeon/],
  ['date in local form', bundle, b => { res(b, 'Patient').birthDate = '02/01/2026' }, /birthDate/],
  ['two performed[x]', bundle, b => { res(b, 'Procedure').performedString = 'x' }, /exclude each other/],
  ['time without zone', bundle, b => { res(b, 'Observation').effectiveDateTime = '2026-01-02T09:00:00' }, /form of dateTime/],
  ['date that does not exist', bundle, b => { res(b, 'Patient').birthDate = '1990-02-30' }, /no such day/],
  ['time without seconds', bundle, b => { res(b, 'Provenance').recorded = '2026-01-02T09:00Z' }, /form of instant/],
  ['quantity as string', bundle, b => { res(b, 'Observation').valueQuantity.value = '8.5' }, /value/],
  ['object for array', bundle, b => { res(b, 'Procedure').bodySite = res(b, 'Procedure').bodySite[0] }, /bodySite/],
  ['empty array', bundle, b => { res(b, 'Procedure').note = [] }, /empty array/],
  ['invariant con-5', bundle, b => {
    res(b, 'Condition').verificationStatus = { coding: [{ system: 'http://terminology.hl7.org/CodeSystem/condition-ver-status', code: 'entered-in-error' }] }
  }, /con-5/],
  ['two broken entries', bundle, b => { delete res(b, 'Procedure').status; delete res(b, 'Observation').code }, /code/],
  ['entry without request', bundle, b => delete entry(b, 'Procedure').request, /bdl-3/],
  ['dangling reference', bundle, b => { res(b, 'Procedure').subject.reference = 'urn:uuid:00000000-0000-5000-8000-999999999999' }, /resolves to no fullUrl/],
  // identities
  ['ifNoneExist twice', bundle, b => { entry(b, 'Practitioner').request.ifNoneExist = entry(b, 'Patient').request.ifNoneExist; const e = structuredClone(entry(b, 'Patient')); e.fullUrl = e.fullUrl.replace(/1$/, '9'); e.resource.identifier[0].value = 'FIC-2'; b.entry.push(e) }, /identity Patient\?/],
  ['identifier twice', bundle, b => { const e = structuredClone(entry(b, 'Observation')); e.fullUrl = e.fullUrl.replace(/.$/, 'f'); e.request.url += 'x'; b.entry.push(e) }, /identity Observation identifier/],
  ['tag twice', bundle, b => { for (const e of b.entry.slice(0, 2)) e.resource.meta = { tag: [{ system: 'https://example.org/id', code: 'x' }] }; b.entry[1].resource = structuredClone(b.entry[0].resource) }, /identity \w+ tag/],
  ['fullUrl twice', bundle, b => { b.entry[1].fullUrl = b.entry[0].fullUrl }, /identity fullUrl/],
  ['request names another type', bundle, b => { entry(b, 'Patient').request.url = 'Practitioner' }, /does not create/],
  // JSON shape
  ['null', bundle, b => { res(b, 'Procedure').outcome = null }, /null|outcome/],
  ['empty string', bundle, b => { res(b, 'Practitioner').name[0].family = ' ' }, /empty string/],
  ['empty object', bundle, b => { res(b, 'Procedure').outcome = {} }, /empty object/],
  // codes
  ['productCategory outside its value set', bundle, b => { res(b, 'BiologicallyDerivedProduct').productCategory = 'graft' }, /required value set/],
  ['storage scale spelt fahrenheit', bundle, b => { res(b, 'BiologicallyDerivedProduct').storage[0].scale = 'fahrenheit' }, /required value set/],
  ['HL7 code that does not exist', bundle, b => { res(b, 'Observation').category[0].coding[0].code = 'operation' }, /does not exist in/],
  ['HL7 display changed', bundle, b => { res(b, 'Observation').category[0].coding[0].display = 'Operation' }, /display "Operation"/],
  ['own code not in the CodeSystem', bundle, b => { res(b, 'Procedure').code.coding[0].code = 'dalk2' }, /does not exist in/],
  ['own CodeSystem left out', bundle, b => { b.entry = b.entry.filter(e => e.resource.resourceType !== 'CodeSystem') }, /is unknown/],
  ['code without system', bundle, b => delete res(b, 'Procedure').code.coding[1].system, /without a system/],
  ['SNOMED CT outside the Global Patient Set', bundle, b => { res(b, 'Procedure').code.coding[1] = { system: 'http://snomed.info/sct', code: '1413003' } }, /Global Patient Set/],
  ['SNOMED CT digit', bundle, b => { res(b, 'Procedure').code.coding[1].code = '60656009' }, /check digit/],
  ['SNOMED CT display of another code', bundle, b => { res(b, 'Procedure').bodySite[0].coding[0].display = 'Entire left eye' }, /display "Entire left eye"/],
  ['inactive right eye', bundle, b => { res(b, 'Procedure').bodySite[0].coding[0] = { system: 'http://snomed.info/sct', code: '18944008' } }, /inactive/],
  ['inactive left eye', bundle, b => { res(b, 'Procedure').bodySite[0].coding[0] = { system: 'http://snomed.info/sct', code: '8966001' } }, /inactive/],
  ['LOINC digit', bundle, b => { res(b, 'DocumentReference').type.coding[0].code = '11504-7' }, /LOINC check digit/],
  ['unit D for dioptre', bundle, b => { Object.assign(res(b, 'Observation').valueQuantity, { unit: 'D', code: 'D' }) }, /not UCUM/],
  ['unit [diop misspelt', bundle, b => { Object.assign(res(b, 'Observation').valueQuantity, { code: '[Diop]' }) }, /not UCUM/],
  ['ICD-10-CM of the other eye', bundle, b => { res(b, 'Condition').code.coding[1].code = 'H18.612' }, /another eye/],
  ['licensed code source named', bundle, b => { res(b, 'Procedure').code.coding.push({ system: 'http://www.ama-assn.org/go/cpt', code: '1' }) }, /ama-assn/],
  // narrative
  ['narrative without namespace', bundle, b => { res(b, 'Patient').text.div = '<div>x</div>' }, /namespace/],
  ['narrative not well-formed', bundle, b => { res(b, 'Patient').text.div = '<div xmlns="http://www.w3.org/1999/xhtml"><p>x</div>' }, /well-formed/],
  ['narrative HTML entity', bundle, b => { res(b, 'Patient').text.div = '<div xmlns="http://www.w3.org/1999/xhtml">&nbsp;x</div>' }, /well-formed/],
  ['narrative bare ampersand', bundle, b => { res(b, 'Patient').text.div = '<div xmlns="http://www.w3.org/1999/xhtml">a & b</div>' }, /well-formed/],
  ['narrative script', bundle, b => { res(b, 'Patient').text.div = '<div xmlns="http://www.w3.org/1999/xhtml">x<script>y</script></div>' }, /not allowed/],
  ['narrative handler', bundle, b => { res(b, 'Patient').text.div = '<div xmlns="http://www.w3.org/1999/xhtml"><p onclick="y">x</p></div>' }, /event attribute/],
  ['narrative empty', bundle, b => { res(b, 'Patient').text.div = '<div xmlns="http://www.w3.org/1999/xhtml"> </div>' }, /no text|txt-2/],
  // attachments
  ['attachment size', bundle, b => { res(b, 'DocumentReference').content[0].attachment.size++ }, /size/],
  ['attachment hash', bundle, b => { res(b, 'DocumentReference').content[0].attachment.hash = 'AAAA' }, /SHA-1/],
  // documents
  ['Composition not first', document, b => { b.entry.push(b.entry.shift()) }, /not a Composition|bdl-11/],
  ['document without identifier', document, b => delete b.identifier, /bdl-9/],
  ['document without timestamp', document, b => delete b.timestamp, /bdl-10/],
  ['section without text', document, b => delete res(b, 'Composition').section[2].text, /section without text|cmp-1/],
  ['section without title', document, b => delete res(b, 'Composition').section[2].title, /without title/],
  ['section twice', document, b => { const s = res(b, 'Composition').section; s.push(s[0]) }, /occurs 2 times/],
  ['another document type', document, b => { res(b, 'Composition').type.coding[0] = { system: 'http://loinc.org', code: '18776-5' } }, /operation note/],
  ['confidentiality outside its value set', document, b => { res(b, 'Composition').confidentiality = 'secret' }, /required value set/],
  ...['59774-0', '55109-3', '10219-4', '59770-8', '59776-5', '59773-2', '10218-6', '29554-3', '59768-2', '59771-6'].map(code =>
    [`section ${code} left out`, document, b => {
      const c = res(b, 'Composition')
      c.section = c.section.filter(s => s.code.coding[0].code !== code)
    }, new RegExp(`section ${code}`)]),
]

const texts = [
  ['duplicate key', bundle.replace('"type": "transaction"', '"type": "transaction", "type": "transaction"'), /duplicate JSON key/],
  ['byte order mark', '\ufeff' + bundle, /byte order mark/],
  ['truncated file', bundle.slice(0, 500), /JSON/],
  ['no resource', '{}', /not an R4 resource/],
  ['a Patient, not a Bundle', JSON.stringify(res(JSON.parse(bundle), 'Patient')), /not a Bundle/],
]

let failed = 0
let passed = 0
const judge = (name, ok, detail) => {
  if (ok) { passed++; return }
  failed++
  console.log(`selftest: ${name}: ${detail}`)
}

for (const [name, text] of [['valid bundle', bundle], ['valid document', document]]) {
  const r = checkResourceText(text)
  judge(name, r.errors.length === 0 && r.resources > 4, r.errors.join('\n  '))
}
for (const [name, text, change, why] of broken) {
  const b = JSON.parse(text)
  change(b)
  const { errors } = checkResourceText(JSON.stringify(b))
  judge(name, errors.some(e => why.test(e)), `expected ${why}, got ${errors.length ? errors.join(' / ') : 'no error'}`)
}
for (const [name, text, why] of texts) {
  const { errors } = checkResourceText(text)
  judge(name, errors.some(e => why.test(e)), `expected ${why}, got ${errors.join(' / ') || 'no error'}`)
}
// A mapping lets a site use a code outside the Global Patient Set.
const mapped = JSON.parse(bundle)
res(mapped, 'Procedure').code.coding.push({ system: 'http://snomed.info/sct', code: '1413003' })
judge('mapped code', checkResourceText(JSON.stringify(mapped), { allowed: new Set(['http://snomed.info/sct|1413003']) }).errors.length === 0, 'refused')

// Check digits: LOINC 11504-8 and 10219-4, SNOMED CT 65636009 and 42101009 are published codes.
judge('LOINC digits', loincDigitOK('11504-8') && loincDigitOK('10219-4') && !loincDigitOK('11504-9'), 'wrong')
judge('Verhoeff', verhoeffOK('65636009') && verhoeffOK('42101009') && !verhoeffOK('65636008'), 'wrong')
// Units: accepted and refused by the published UCUM grammar.
for (const u of ['mm', 'um', 'mL', '[diop]', 'deg', '%', '/mm2', 'mm[Hg]', "[in_i'Hg]", 'Cel', '1', '{logMAR}']) judge(`unit ${u}`, unitOK(u), 'refused')
for (const u of ['D', 'diop', '[Diop]', '[logMAR]', 'mm[Hg', '']) judge(`unit ${u}`, !unitOK(u), 'accepted')

console.log(`fhir selftest: ${passed} passed, ${failed} failed`)
process.exit(failed ? 1 : 0)
