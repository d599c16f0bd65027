// node check.mjs --base URL [--selftest] [--second] [--cases NAME,NAME] FOLDER...
//
// Sends every *.bundle.json of the folders, in their order, to a FHIR R4 server
// that stores what it is sent: twice each and byte for byte as the file is. Only
// the patients are made beforehand, as the hospital would have. Then it holds
// what the server has against what was sent.
//
// --second is for a server that keeps numbers as JavaScript does (8.50 comes back
// as 8.5) and leaves the search for the patient in the reference as it was sent, so
// that nothing is found by patient. --cases takes some of the files only.
//
// Checked by: FHIR R4, RESTful API (http.html): transaction (3.1.0.11), conditional
// create and update, search by identifier, _tag.
import { createHash } from 'node:crypto'
import { existsSync, readFileSync, readdirSync } from 'node:fs'
import { basename, join } from 'node:path'
import { differences, got, read, rounded, sent, visit } from './exact.mjs'
import { broken } from './broken.mjs'

const args = process.argv.slice(2)
const option = name => {
  const i = args.indexOf(name)
  return i < 0 ? undefined : args.splice(i, 2)[1]
}
const base = option('--base')
const selftest = args.includes('--selftest')
const second = args.includes('--second')
const cases = option('--cases')?.split(',')
const folders = args.filter(a => !a.startsWith('--'))
if (!base || folders.length === 0) throw new Error('usage: node check.mjs --base URL [--selftest] FOLDER...')

const type = 'application/fhir+json'
let faults = []
const fault = (where, what) => faults.push(`${where}: ${what}`)

async function ask(method, path, body) {
  const r = await fetch(path ? `${base}/${path}` : base, {
    method, body, headers: { accept: type, 'cache-control': 'no-cache', ...(body && { 'content-type': type }) },
  })
  const text = await r.text()
  let answer
  try { answer = read(text) } catch { answer = { text } }
  return { status: r.status, answer }
}
const why = r => `${r.status} ${r.answer.issue?.map(i => i.diagnostics ?? i.details?.text).join('; ') ?? ''}`.slice(0, 400)

// total counts what a search finds; the server's own words when it can't search.
async function total(query) {
  const r = await ask('GET', query + (query.includes('?') ? '&' : '?') + '_summary=count')
  return r.status === 200 ? Number(String(r.answer.total).slice(1)) : why(r)
}
// counts is the number of resources of each type.
async function counts(types) {
  const out = {}
  for (const t of [...types].sort()) out[t] = await total(t)
  return JSON.stringify(out)
}

const patients = new Set()
const query = (system, value) => `${encodeURIComponent(system)}%7C${encodeURIComponent(value)}`

// patientsOf are the identifiers of the patients that a bundle refers to.
function patientsOf(bundle) {
  const out = new Map()
  visit(bundle, (k, x, at) => {
    if (k === 'reference' && String(x).startsWith('Patient?')) out.set(x, at.identifier)
  })
  return out
}

// admit makes the patients that the hospital has before it gets a note.
async function admit(file, bundle) {
  for (const [, id] of patientsOf(bundle)) {
    const key = `${id.system}|${id.value}`
    if (patients.has(key)) continue
    const n = patients.size
    if (n === 0 && !second) await refuse(file, bundle, 'without its patient')
    const r = await ask('POST', 'Patient', JSON.stringify({ resourceType: 'Patient', identifier: [id], name: [{ text: `Test ${n}` }] }))
    if (r.status !== 201) throw new Error(`${file}: no patient: ${why(r)}`)
    patients.add(key)
  }
}

// refuse: without exactly one patient a bundle is refused as a whole.
async function refuse(file, bundle, words) {
  const r = await ask('POST', '', readFileSync(file))
  const stored = await total('Composition')
  console.log(`     ${words}: HTTP ${r.status}`)
  if (![400, 404, 412].includes(r.status) || stored !== 0) fault(file, `${words}: ${why(r)}, ${stored} Compositions stored`)
}

// post sends a file and looks at each answer.
async function post(file, bundle, again) {
  const r = await ask('POST', '', readFileSync(file))
  if (r.status !== 200) {
    fault(file, `${again ? 'second' : 'first'} time refused: ${why(r)}`)
    return
  }
  const answers = r.answer.entry ?? []
  if (answers.length !== bundle.entry.length) {
    fault(file, `${bundle.entry.length} entries, ${answers.length} answers`)
    return
  }
  answers.forEach((a, i) => {
    const status = String(a.response?.status).slice(0, 3)
    if (!['200', '201'].includes(status) && !(again && status === '304')) fault(file, `entry ${i}: ${a.response?.status}`)
    if (again && status === '201') fault(file, `entry ${i} (${bundle.entry[i].resource.resourceType}) was made a second time`)
  })
  return answers.map((a, i) => ({ made: String(a.response?.status).startsWith('201') || bundle.entry[i].request.method === 'PUT', at: address(a) }))
}
const address = a => (a.response?.location ?? `${a.resource?.resourceType}/${a.resource?.id}`).replace(/\/_history\/.*$/, '').split('/').slice(-2).join('/')

// readBack holds every resource on the server against the one that was sent.
async function readBack(file, bundle, places) {
  const addresses = new Map()
  bundle.entry.forEach((e, i) => addresses.set(e.fullUrl, places[i].at))
  for (const [ref, id] of second ? [] : patientsOf(bundle)) {
    const r = await ask('GET', `Patient?identifier=${query(id.system, id.value)}`)
    addresses.set(ref, `Patient/${r.answer.entry?.[0]?.resource?.id}`)
  }
  let same = 0
  for (const [i, e] of bundle.entry.entries()) {
    const r = await ask('GET', places[i].at)
    if (r.status !== 200) { fault(file, `${places[i].at}: ${why(r)}`); continue }
    if (!places[i].made) continue // another case made it
    const d = differences(...[sent(e.resource, addresses), got(r.answer, e.resource)].map(x => (second ? rounded(x) : x)))
    if (d.length) fault(file, `${e.resource.resourceType} entry ${i} comes back different: ${d.join('; ')}`)
    else same++
    // the pages of earlier revisions come before that of this one
    if (r.answer.resourceType === 'DocumentReference') document(file, r.answer, bundle.entry.slice(i + 1).some(x => x.resource.resourceType === 'DocumentReference'))
  }
  return same
}

// document: the bytes that come back are the bytes of the file, size and SHA-1
// as stated (R4, Attachment.size, Attachment.hash).
function document(file, res, earlier) {
  for (const { attachment: a } of res.content) {
    const pdf = Buffer.from(a.data ?? '', 'base64')
    const sum = createHash('sha1').update(pdf).digest('base64')
    if (sum !== a.hash || `#${pdf.length}` !== a.size || pdf.subarray(0, 5).toString() !== '%PDF-') fault(file, 'the PDF does not fit its hash or size')
    const beside = file.replace(/\.bundle\.json$/, '.note.pdf')
    if (earlier) continue
    if (!existsSync(beside) || !readFileSync(beside).equals(pdf)) fault(file, 'the PDF on the server is not the file beside the bundle')
  }
}

// searches: what an import is looked for by must find it, and find it once.
async function searches(file, bundle) {
  const find = async (q, want) => {
    const n = await total(q)
    if (n !== want && !(want === undefined && n > 0)) fault(file, `${q} finds ${n}`)
  }
  const [[, patient]] = patientsOf(bundle)
  const of = second ? '' : `patient.identifier=${query(patient.system, patient.value)}`
  if (of) for (const t of ['Procedure', 'Observation', 'DocumentReference', 'Composition']) await find(`${t}?${of}`)
  for (const e of bundle.entry) {
    const { resourceType: kind, identifier, code } = e.resource
    await find(e.request.ifNoneExist ? `${kind}?${e.request.ifNoneExist}` : e.request.url, 1)
    if (kind === 'DocumentReference') await find(`${kind}?identifier=${query(identifier[0].system, identifier[0].value)}`, 1)
    if (kind === 'Procedure' && code.coding) for (const c of code.coding) await find(`Procedure?code=${query(c.system, c.code)}&${of}`)
    // R4 can't search a BiologicallyDerivedProduct by its number.
    if (kind === 'BiologicallyDerivedProduct') for (const id of identifier ?? []) await find(`Observation?identifier=${query(id.system, id.value)}`)
  }
}

// over: what earlier bundles of the case brought and the newest has not may not
// go on as if it were true.
const history = new Map() // case to address to place in the newest bundle
const done = r => r.status === 'entered-in-error' || r.status === 'superseded' || r.verificationStatus?.coding?.[0]?.code === 'entered-in-error'
const owned = e => e.request.method === 'PUT' || /%7C[^&]*\.[^&]*$/.test(e.request.ifNoneExist)
const lasting = new Set(['Provenance', 'BiologicallyDerivedProduct', 'Practitioner', 'Organization', 'Location', 'Patient'])
function remember(file, bundle, places) {
  const name = basename(file)
  const all = history.get(name) ?? new Map()
  for (const [k, v] of all) v.newest = false
  bundle.entry.forEach((e, i) => {
    if (owned(e) && !lasting.has(e.resource.resourceType)) all.set(places[i].at, { newest: true, file })
  })
  all.withdrawn = bundle.entry[0].resource.status === 'entered-in-error'
  history.set(name, all)
}
async function over() {
  for (const all of history.values()) {
    for (const [at, v] of all) {
      if (v.newest && !all.withdrawn) continue
      const r = await ask('GET', at)
      if (!done(r.answer)) fault(v.file, `${at} is ${r.answer.status ?? r.answer.verificationStatus?.coding?.[0]?.code} though a later revision ${v.newest ? 'withdrew the note' : 'has it no more'}`)
    }
  }
}

// send does all that for one bundle.
async function send(file, text) {
  const bundle = read(text)
  const until = faults.length
  const types = new Set(bundle.entry.map(e => e.resource.resourceType))
  const first = await post(file, bundle, false)
  if (!first) return
  const before = await counts(types)
  await post(file, bundle, true)
  const after = await counts(types)
  if (before !== after) fault(file, `the second time made something: ${before}, then ${after}`)
  remember(file, bundle, first)
  const same = await readBack(file, bundle, first)
  await searches(file, bundle)
  if (faults.length === until) console.log(`ok   ${file.split('/').slice(-2).join('/')}: ${bundle.entry.length} entries twice, ${same} read back equal`)
}

let sum = 0
for (const folder of folders) {
  const files = readdirSync(folder).filter(f => f.endsWith('.bundle.json') && (!cases || cases.some(c => f.startsWith(c)))).sort()
  if (files.length === 0) throw new Error(`${folder}: no bundle: nothing was checked`)
  for (const f of files) {
    const file = join(folder, f)
    const text = readFileSync(file, 'utf8')
    await admit(file, read(text))
    await send(file, text)
    sum++
  }
}
await over()

// The self-test sends broken bundles of a case of its own and fails when one goes
// through. It comes last, so that nothing of it is there before.
if (selftest) {
  for (const b of broken(folders[0])) {
    const kept = faults
    faults = []
    await admit(b.file, read(readFileSync(b.file, 'utf8')))
    await send(b.file, readFileSync(b.file, 'utf8'))
    const seen = faults
    faults = kept
    if (!seen.some(f => b.expect.test(f))) fault('self-test', `${b.name} was not found; faults: ${seen.join(' | ') || 'none'}`)
    else console.log(`ok   self-test: ${b.name}`)
  }
}
for (const f of faults) console.error(f)
if (faults.length) { console.error(`${faults.length} faults`); process.exit(1) }
console.log(`${sum} bundles, ${patients.size} patients: all stored, nothing twice, all read back`)
