// Judgement of single codes: check digits, code lists, units.

import ucum from '@lhncbc/ucum-lhc'
import { codeSystems, concepts, gps, listedCodes } from './definitions.mjs'

const units = ucum.UcumLhcUtils.getInstance()

// LOINC check digit: mod 10 over the digits from the right, doubling every
// other one (LOINC Users' Guide, appendix on the check digit; Luhn).
export function loincDigitOK(code) {
  const m = /^(\d{1,7})-(\d)$/.exec(code)
  if (!m) return false
  let sum = 0
  ;[...m[1]].reverse().forEach((d, i) => {
    const n = Number(d) * (i % 2 === 0 ? 2 : 1)
    sum += n > 9 ? n - 9 : n
  })
  return (10 - (sum % 10)) % 10 === Number(m[2])
}

// SNOMED CT identifier check digit: Verhoeff's dihedral scheme (SNOMED CT
// Technical Implementation Guide, "Check-digit computation").
const D = ['0123456789', '1234067895', '2340178956', '3401289567', '4012395678',
  '5987604321', '6598710432', '7659821043', '8765932104', '9876543210']
const P = ['0123456789', '1576283094', '5803796142', '8916043527', '9453126870', '4286573901', '2793806415', '7046913258']
export function verhoeffOK(code) {
  if (!/^[1-9]\d{5,17}$/.test(code)) return false
  let c = 0
  ;[...code].reverse().forEach((d, i) => { c = Number(D[c][Number(P[i % 8][Number(d)])]) })
  return c === 0
}

export function unitOK(code) {
  const r = units.validateUnitString(code, false)
  return r.status === 'valid' && r.ucumCode === code
}

// Retired in SNOMED CT ("left eye structure", "right eye structure").
export const inactive = new Set(['8966001', '18944008'])

export const LOINC = 'http://loinc.org'
export const SNOMED = 'http://snomed.info/sct'
export const UCUM = 'http://unitsofmeasure.org'
export const ICD10CM = 'http://hl7.org/fhir/sid/icd-10-cm'

// Systems whose list is not at hand: the shape of the code is all that can be judged.
const shapes = new Map([
  [ICD10CM, /^[A-Z]\d[0-9A-Z](\.[0-9A-Z]{1,4})?$/],
  ['http://hl7.org/fhir/sid/icd-10', /^[A-Z]\d\d(\.\d{1,2})?$/],
  ['http://www.cms.gov/Medicare/Coding/ICD10', /^[0-9A-HJ-NP-Z]{7}$/],
  ['https://www.isbt128.org/uri/productdescriptioncode', /^[A-Z]\d{4}$/],
  ['urn:ietf:bcp:13', /^[\w.+-]+\/[\w.+-]+$/],
  ['urn:ietf:bcp:47', /^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$/],
  ['urn:iso:std:iso:3166', /^([A-Z]{2,3}|\d{3})$/],
])

const bare = fsn => fsn.replace(/ \([^()]*\)$/, '')

// checkCoding reports on one Coding. own: code systems that travel with the
// files, url -> CodeSystem. allowed: Set of "system|code" from a site mapping.
export function checkCoding(coding, own, allowed, error, warn) {
  const { system, code, display } = coding
  if (code === undefined) {
    if (system !== undefined || display !== undefined) error('coding without a code')
    return
  }
  if (system === undefined) return error(`code ${code} without a system`)
  if (allowed.has(`${system}|${code}`)) {
    if (system === SNOMED && !verhoeffOK(code)) error(`SNOMED CT check digit of ${code}`)
    if (inactive.has(code)) error(`inactive SNOMED CT code ${code}`)
    return
  }
  if (system === LOINC) {
    if (!loincDigitOK(code)) error(`LOINC check digit of ${code}`)
    const names = listedCodes.get(LOINC)?.get(code)
    if (display !== undefined && names?.size && !names.has(display)) warn(`LOINC ${code}: R4 (2019) has another display than "${display}"`)
    return
  }
  if (system === SNOMED) {
    if (inactive.has(code)) return error(`inactive SNOMED CT code ${code}`)
    if (!verhoeffOK(code)) return error(`SNOMED CT check digit of ${code}`)
    if (!gps.has(code)) return error(`SNOMED CT code ${code} is not in the Global Patient Set and no mapping allows it`)
    const fsn = gps.get(code)
    if (display !== undefined && display !== fsn && display !== bare(fsn)) error(`SNOMED CT ${code}: display "${display}", published "${fsn}"`)
    return
  }
  if (system === UCUM) {
    if (!unitOK(code)) error(`unit ${code} is not UCUM`)
    return
  }
  if (shapes.has(system)) {
    if (!shapes.get(system).test(code)) error(`code ${code} has not the shape of ${system}`)
    return
  }
  const lists = own.has(system) ? [concepts(own.get(system))]
    : [...(codeSystems.get(system) ?? []).filter(cs => cs.concept).map(concepts),
      ...(listedCodes.has(system) ? [listedCodes.get(system)] : [])]
  if (lists.length === 0) return error(`code system ${system} is unknown: neither published by HL7 nor shipped along`)
  const hits = lists.filter(l => l.has(code))
  if (hits.length === 0) return error(`code ${code} does not exist in ${system}`)
  const names = new Set(hits.flatMap(l => [...l.get(code)]))
  if (display !== undefined && names.size && !names.has(display)) error(`${system} ${code}: display "${display}", published ${[...names].map(n => `"${n}"`).join(' or ')}`)
}
