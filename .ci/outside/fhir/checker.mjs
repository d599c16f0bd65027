// Checks one bundle text and returns {errors, warnings, resources}.
// Judges, in this order: strict JSON; @medplum/core (structure and FHIRPath
// invariants of R4); npm fhir (second structure check, codes, reference types);
// own walk along the published ElementDefinitions for what both leave out.

import { createHash } from 'node:crypto'
import { indexStructureDefinitionBundle, validateResource } from '@medplum/core'
import fhirPkg from 'fhir'
import { ICD10CM, SNOMED, UCUM, checkCoding, inactive, unitOK } from './codes.mjs'
import { isPrimitive, isResource, memberTest, primitiveForms, r4bundle, structures } from './definitions.mjs'
import { checkDocument } from './document.mjs'
import { narrativeFaults } from './narrative.mjs'
import { parseStrict } from './strictjson.mjs'

for (const name of ['profiles-types', 'profiles-resources']) indexStructureDefinitionBundle(r4bundle(name))
const second = new fhirPkg.Fhir()

const quantities = new Set(['Quantity', 'SimpleQuantity', 'Age', 'Count', 'Distance', 'Duration'])
const uuid = /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/
const eyes = new Map([['362502000', '1'], ['362503005', '2'], ['362508001', '3']])

export function checkResourceText(text, opts = {}) {
  const errors = []
  const warnings = []
  const report = { errors, warnings, resources: 0 }
  const error = (at, msg) => errors.push(`${at}: ${msg}`)
  const warn = (at, msg) => warnings.push(`${at}: ${msg}`)
  let root
  try {
    root = parseStrict(text)
  } catch (e) {
    error('$', e.message)
    return report
  }
  if (/ama-assn\.org/i.test(text)) error('$', 'names ama-assn.org')
  if (!isResource(root?.resourceType ?? '')) {
    error('$', 'not an R4 resource')
    return report
  }
  if (opts.bundle !== false && root.resourceType !== 'Bundle') error('$', 'not a Bundle')

  const own = new Map(opts.codeSystems ?? [])
  for (const r of [root, ...(root.entry ?? []).map(e => e?.resource)]) {
    if (r?.resourceType === 'CodeSystem') own.set(r.url, r)
  }
  const ctx = { root, own, allowed: opts.allowed ?? new Set(), error, warn, contained: new Set(), targets: new Map(), report }

  if (Array.isArray(root.entry)) entries(root, ctx)
  first(root, '$', ctx)
  root.entry?.forEach?.((e, i) => { if (e?.resource) first(e.resource, `$.entry[${i}].resource`, ctx) })
  again(root, ctx)
  resource(root, '$', ctx)
  if (root.type === 'document') checkDocument(root, error)
  report.errors = [...new Set(errors)]
  report.warnings = [...new Set(warnings)]
  return report
}

// first runs @medplum/core on one resource.
function first(res, at, ctx) {
  const say = i => {
    const where = `${at} ${i.expression?.join(', ') ?? ''}`.trim()
    const text = `[medplum] ${i.details?.text ?? i.diagnostics ?? i.code}`
    // It calls every urn:uuid reference doubtful; those are resolved below.
    if (i.severity === 'warning' && /reference/i.test(text)) return
    i.severity === 'error' || i.severity === 'fatal' ? ctx.error(where, text) : ctx.warn(where, text)
  }
  try {
    validateResource(res).forEach(say)
  } catch (e) {
    if (!e.outcome) return ctx.error(at, `[medplum] ${e.message}`)
    e.outcome.issue.forEach(say)
  }
}

// again runs the npm fhir validator; it descends into entries by itself.
function again(root, ctx) {
  let r
  try {
    r = second.validate(structuredClone(root), { errorOnUnexpected: true })
  } catch (e) {
    return ctx.error('$', `[fhir] ${e.message}`)
  }
  for (const m of r.messages) {
    const line = `[fhir] ${m.message}`
    m.severity === 'error' || m.severity === 'fatal' ? ctx.error(m.location ?? '$', line) : ctx.warn(m.location ?? '$', line)
  }
  if (!r.valid && !r.messages.some(m => /error|fatal/.test(m.severity))) ctx.error('$', '[fhir] not valid')
}

// entries collects what references may point at and refuses repeated identities.
function entries(bundle, ctx) {
  const seen = new Map()
  const once = (key, at) => {
    if (seen.has(key)) ctx.error(at, `identity ${key} already at ${seen.get(key)}`)
    else seen.set(key, at)
  }
  bundle.entry.forEach((e, i) => {
    const at = `$.entry[${i}]`
    if (e?.fullUrl !== undefined) {
      if (String(e.fullUrl).startsWith('urn:uuid:') && !uuid.test(e.fullUrl)) ctx.error(at, 'fullUrl is not a lower-case RFC 9562 UUID')
      once(`fullUrl ${e.fullUrl}`, at)
      ctx.targets.set(e.fullUrl, e.resource?.resourceType)
    } else if (['transaction', 'batch', 'document', 'collection'].includes(bundle.type)) {
      ctx.error(at, 'entry without fullUrl')
    }
    const type = e?.resource?.resourceType
    const req = e?.request
    if (req) {
      const want = req.method === 'POST' ? type : `${type}?`
      if (req.method === 'POST' && req.url !== want) ctx.error(at, `request.url ${req.url} does not create a ${type}`)
      if (req.method === 'PUT' && !req.url?.startsWith(want) && !req.url?.startsWith(`${type}/`)) ctx.error(at, `request.url ${req.url} does not update a ${type}`)
      if (req.ifNoneExist !== undefined) once(`${type}?${req.ifNoneExist}`, at)
      if (req.method === 'PUT') once(req.url, at)
    }
    const ids = e?.resource?.identifier
    for (const tag of e?.resource?.meta?.tag ?? []) once(`${type} tag ${tag?.system}|${tag?.code}`, at)
    // A secondary identifier names something else that the resource is about.
    for (const id of Array.isArray(ids) ? ids : ids ? [ids] : []) if (id?.use !== 'secondary') once(`${type} identifier ${id?.system}|${id?.value}`, at)
  })
}

function resource(res, at, ctx) {
  if (!isResource(res?.resourceType ?? '')) return ctx.error(at, 'no R4 resource type')
  ctx.report.resources++
  const outer = ctx.contained
  if (res.contained) ctx.contained = new Map(res.contained.map(c => [`#${c?.id}`, c?.resourceType]))
  object(res, res.resourceType, res.resourceType, at, ctx)
  eyeDigit(res, at, ctx)
  ctx.contained = outer
}

// object walks one JSON object: type is the FHIR type whose definition holds
// the element path base.
function object(node, type, base, at, ctx) {
  if (node === null || typeof node !== 'object' || Array.isArray(node)) return ctx.error(at, 'is not an object')
  const keys = Object.keys(node)
  if (keys.length === 0) return ctx.error(at, 'empty object')
  const defs = structures.get(type)
  const chosen = new Map()
  for (const key of keys) {
    if (key === 'resourceType') continue
    const here = `${at}.${key}`
    const values = Array.isArray(node[key]) ? node[key] : [node[key]]
    if (values.length === 0) { ctx.error(here, 'empty array'); continue }
    if (key[0] === '_') {
      values.forEach((v, i) => { if (v !== null) object(v, 'Element', 'Element', `${here}[${i}]`, ctx) })
      continue
    }
    let el = defs.get(`${base}.${key}`)
    let kind
    if (!el) {
      for (const [path, d] of defs) {
        if (!path.endsWith('[x]') || path.split('.').length !== base.split('.').length + 1) continue
        const stem = path.slice(base.length + 1, -3)
        const t = (d.type ?? []).find(t => key === stem + t.code[0].toUpperCase() + t.code.slice(1))
        if (!t) continue
        el = d
        kind = t
        if (chosen.has(stem)) ctx.error(here, `${chosen.get(stem)} and ${key} exclude each other`)
        chosen.set(stem, key)
      }
    }
    if (!el) { ctx.error(here, 'unknown element'); continue }
    if ((el.max === '*') !== Array.isArray(node[key])) ctx.error(here, el.max === '*' ? 'must be an array' : 'must not be an array')
    values.forEach((v, i) => element(v, el, kind ?? el.type?.[0], type, Array.isArray(node[key]) ? `${here}[${i}]` : here, ctx, node))
  }
  special(node, type, at, ctx)
}

function element(v, el, kind, holder, at, ctx, parent) {
  if (el.contentReference) return object(v, holder, el.contentReference.slice(1), at, ctx)
  const code = kind.code
  if (v === null) {
    if (!(isPrimitive(code) && Object.keys(parent).some(k => k[0] === '_'))) ctx.error(at, 'null')
    return
  }
  if (isPrimitive(code)) {
    if (typeof v === 'object') return ctx.error(at, 'is not a primitive value')
    if (typeof v === 'string' && v.trim() === '') ctx.error(at, 'empty string')
    primitive(v, code, at, ctx)
    if (typeof v === 'string' && inactive.has(v)) ctx.error(at, `inactive SNOMED CT code ${v}`)
  } else if (code === 'Resource') {
    resource(v, at, ctx)
  } else if (code === 'BackboneElement' || code === 'Element') {
    object(v, holder, el.path, at, ctx)
  } else {
    object(v, code, code, at, ctx)
  }
  if (el.binding?.strength === 'required') binding(v, el, code, at, ctx)
  if (code === 'Reference') reference(v, kind, at, ctx)
}

// primitive compares a value with the JSON type and the regular expression that
// R4 publishes for its type; a date must also exist in the calendar.
function primitive(v, code, at, ctx) {
  const want = code === 'boolean' ? 'boolean' : ['integer', 'decimal', 'positiveInt', 'unsignedInt'].includes(code) ? 'number' : 'string'
  if (typeof v !== want) return ctx.error(at, `is a JSON ${typeof v}, ${code} needs a ${want}`)
  if (want === 'string' && primitiveForms.has(code) && code !== 'base64Binary' && !primitiveForms.get(code).test(v)) {
    return ctx.error(at, `"${v}" has not the form of ${code}`)
  }
  const day = ['date', 'dateTime', 'instant'].includes(code) && /^(\d{4})-(\d\d)-(\d\d)/.exec(v)
  if (day && new Date(Date.UTC(day[1], day[2] - 1, day[3])).getUTCDate() !== Number(day[3])) ctx.error(at, 'no such day')
}

// binding: a code outside a required value set is an error.
function binding(v, el, type, at, ctx) {
  let member
  try {
    member = memberTest(el.binding.valueSet)
  } catch (e) {
    return ctx.error(at, e.message)
  }
  const bad = what => ctx.error(at, `${what} is not in the required value set ${el.binding.valueSet}`)
  if (typeof v === 'string') { if (!member(undefined, v)) bad(`code ${v}`) }
  else if (type === 'Coding' || quantities.has(type)) { if (v.code !== undefined && !member(v.system, v.code)) bad(`code ${v.system}|${v.code}`) }
  else if (type === 'CodeableConcept' && !v.coding?.some(c => member(c.system, c.code))) bad('no coding that')
}

function reference(v, kind, at, ctx) {
  const types = (kind.targetProfile ?? []).map(p => p.split('/').pop())
  const fits = t => { if (types.length && !types.includes('Resource') && !types.includes(t)) ctx.error(at, `reference to ${t}, allowed: ${types.join(', ')}`) }
  const ref = v.reference
  if (ref === undefined) {
    if (v.identifier === undefined && v.display === undefined && !v.extension) ctx.error(at, 'reference to nothing')
    if (v.type !== undefined) fits(v.type)
    return
  }
  if (typeof ref !== 'string') return
  let target
  if (ref[0] === '#') {
    if (!(ctx.contained instanceof Map) || !ctx.contained.has(ref)) return ctx.error(at, `no contained resource ${ref}`)
    target = ctx.contained.get(ref)
  } else if (ctx.targets.has(ref)) {
    target = ctx.targets.get(ref)
  } else if (ref.startsWith('urn:')) {
    return ctx.error(at, `${ref} resolves to no fullUrl`)
  } else {
    const m = /^(?:https?:\/\/.+\/)?([A-Z][A-Za-z]+)(\?.+|\/[A-Za-z0-9.-]{1,64}(\/_history\/.+)?)$/.exec(ref)
    if (!m) return ctx.error(at, `reference ${ref} has no R4 form`)
    target = m[1]
    if (ctx.root.type === 'document') ctx.warn(at, `reference ${ref} leaves the document`)
  }
  if (!target) return ctx.error(at, `${ref} leads to no resource`)
  fits(target)
  if (v.type !== undefined && v.type !== target) ctx.error(at, `type ${v.type}, but ${ref} is a ${target}`)
}

// special holds the rules of single data types.
function special(node, type, at, ctx) {
  // A tag that names one resource is no code of a code system.
  if (type === 'Coding' && !/\.meta\.tag\[\d+\]$/.test(at)) checkCoding(node, ctx.own, ctx.allowed, m => ctx.error(at, m), m => ctx.warn(at, m))
  if (quantities.has(type)) {
    if (node.system === UCUM && !unitOK(node.code ?? '')) ctx.error(at, `unit ${node.code} is not UCUM`)
    if (node.system !== undefined && node.system !== UCUM) ctx.warn(at, `quantity in ${node.system}, not UCUM`)
    if (node.value !== undefined && node.code === undefined) ctx.warn(at, 'quantity without a coded unit')
  }
  if (type === 'Narrative' && typeof node.div === 'string') narrativeFaults(node.div).forEach(f => ctx.error(`${at}.div`, f))
  if (type === 'Attachment') {
    // R4 Attachment: size in bytes and base64 of the SHA-1, both of the data before base64.
    const data = node.data === undefined ? undefined : Buffer.from(node.data, 'base64')
    if (data && data.toString('base64') !== node.data) ctx.error(at, 'data is not canonical base64')
    if (data && node.size !== undefined && node.size !== data.length) ctx.error(at, `size ${node.size}, data has ${data.length} bytes`)
    if (data && node.hash !== undefined && node.hash !== createHash('sha1').update(data).digest('base64')) ctx.error(at, 'hash is not the SHA-1 of data')
    if (data && node.contentType === 'application/pdf' && !data.subarray(0, 5).equals(Buffer.from('%PDF-'))) ctx.error(at, 'application/pdf without a PDF header')
    if (String(node.url ?? '').startsWith('urn:uuid:') && !ctx.targets.has(node.url)) ctx.error(at, `${node.url} resolves to no fullUrl`)
  }
}

// eyeDigit: in ICD-10-CM H16 to H18, the last digit of a six-character code, in
// H17.0, H17.1 and H18.1 of a five-character code, is 1 right, 2 left, 3
// bilateral; it must agree with the body site beside it.
function eyeDigit(res, at, ctx) {
  const site = [res.bodySite].flat().flatMap(b => b?.coding ?? []).find(c => c.system === SNOMED && eyes.has(c.code))
  if (!site) return
  for (const c of [res.code].flat().flatMap(x => x?.coding ?? [])) {
    const m = c.system === ICD10CM && /^(?:H17\.[01]|H18\.1|H1[678]\.\d\d|T86\.84\d)([123])$/.exec(c.code)
    if (m && m[1] !== eyes.get(site.code)) ctx.error(at, `ICD-10-CM ${c.code} names another eye than body site ${site.code}`)
  }
}
