// JSON whose numbers stay text, so that 8.50 that comes back as 8.5 is seen
// (FHIR R4, datatypes, decimal: the precision is part of the value), and the
// comparison of a resource as it was sent with the one that a server gives back.

// read parses JSON text; a number becomes the text "#8.50".
export function read(text) {
  JSON.parse(text) // the grammar
  return JSON.parse(text.replace(/"(?:[^"\\]|\\.)*"|-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?/g, s => (s[0] === '"' ? s : `"#${s}"`)))
}

// visit calls back for every member of every object below v.
export function visit(v, call) {
  if (Array.isArray(v)) return v.forEach(x => visit(x, call))
  if (v === null || typeof v !== 'object') return
  for (const [k, x] of Object.entries(v)) {
    call(k, x, v)
    visit(x, call)
  }
}

// tags writes an empty XHTML element in its short form: <td></td> and <td/> are
// one thing (XML 1.0, 3.1).
const tags = div => div.replace(/<(\w+)((?:\s[^<>]*)?)><\/\1>/g, '<$1$2/>')

// sent is a resource as the server must give it back: links to other entries
// lead to their new addresses (R4, transaction).
export function sent(resource, addresses) {
  const out = structuredClone(resource)
  visit(out, (k, x, at) => {
    if (k === 'reference' && addresses.has(x)) at[k] = addresses.get(x)
    if (k === 'div') at[k] = tags(x)
  })
  return out
}

// got is what the server gave, without what is the server's own (R4, Resource:
// id and meta.versionId, lastUpdated; source when nothing was sent for it).
export function got(resource, asked) {
  const out = structuredClone(resource)
  delete out.id
  if (out.meta) {
    for (const k of ['versionId', 'lastUpdated', 'author', 'project', 'compartment']) delete out.meta[k]
    if (!asked.meta?.source) delete out.meta.source
    if (Object.keys(out.meta).length === 0) delete out.meta
  }
  visit(out, (k, x, at) => {
    if (k === 'div') at[k] = tags(x)
  })
  return out
}

// rounded has each number as JavaScript writes it, for a server that is written in it.
export function rounded(resource) {
  return JSON.parse(JSON.stringify(resource, (k, x) => (typeof x === 'string' && /^#-?\d/.test(x) ? `#${Number(x.slice(1))}` : x)))
}

// differences are the places where two trees differ; at most ten.
export function differences(a, b, at = '', out = []) {
  if (out.length >= 10) return out
  if (Array.isArray(a) && Array.isArray(b) && a.length === b.length) {
    a.forEach((x, i) => differences(x, b[i], `${at}[${i}]`, out))
  } else if (plain(a) && plain(b)) {
    for (const k of new Set([...Object.keys(a), ...Object.keys(b)])) differences(a[k], b[k], `${at}.${k}`, out)
  } else if (a !== b) {
    out.push(`${at}: sent ${short(a)}, got ${short(b)}`)
  }
  return out
}

const plain = v => v !== null && typeof v === 'object' && !Array.isArray(v)
const short = v => (JSON.stringify(v) ?? 'nothing').slice(0, 120)
