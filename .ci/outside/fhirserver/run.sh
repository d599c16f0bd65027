#!/usr/bin/env bash
# bash run.sh CODESYSTEM MAPPING FOLDER...
#
# Starts a FHIR R4 server that stores what it is sent on the loopback address, with
# the settings it has when nobody sets any and a database file of its own, sends it
# every bundle of the folders in their order (check.mjs), and holds bundles and
# documents against HL7's Operative Note profile with the validator inside the same
# packages (../fhirprofile). The server is stopped at the end.
#
# The packages come from Maven Central: pom.xml pins them.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
codesystem=$1 mapping=$2
shift 2
work=$(mktemp -d)
server=
stop() { if [[ -n $server ]]; then kill "$server" 2>/dev/null || true; wait "$server" 2>/dev/null || true; fi; rm -rf "$work"; }
trap stop EXIT

mvn -q -B -f "$here/hapi/pom.xml" org.apache.maven.plugins:maven-dependency-plugin:3.8.1:build-classpath \
  -Dmdep.outputFile="$work/classpath" </dev/null
packages=$(cat "$work/classpath")
javac -d "$work/classes" -cp "$packages" "$here"/hapi/Server.java "$here"/../fhirprofile/*.java

# answers waits until the server does.
answers() {
  for _ in $(seq 180); do
    if curl -sf -o /dev/null "$base/metadata"; then echo "the FHIR server answers after $SECONDS s"; return; fi
    kill -0 "$server" 2>/dev/null || break
    sleep 1
  done
  tail -n 40 "$work/log" >&2
  echo 'the FHIR server did not start' >&2
  return 1
}

port=$(node -e 'const s = require("net").createServer().listen(0, "127.0.0.1", () => { console.log(s.address().port); s.close() })')
java -Xmx1g -XX:TieredStopAtLevel=1 -cp "$work/classes:$packages" Server "$port" "$work/database" >"$work/log" 2>&1 &
server=$!
base=http://127.0.0.1:$port/fhir
answers
node "$here/check.mjs" --base "$base" --selftest "$@"
kill "$server"; wait "$server" 2>/dev/null || true; server=

# A second server of other authors, in memory; some cases in all their states.
(cd "$here/second" && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error)
node "$here/second/server.mjs" "$port" >"$work/log" 2>&1 &
server=$!
answers
node "$here/check.mjs" --base "$base" --second --cases a1k7,b2m4,n4f6 "$@"
kill "$server"; wait "$server" 2>/dev/null || true; server=

files=()
for folder in "$@"; do files+=("$folder"/*.bundle.json "$folder"/*.document.json); done
java -Xmx1500m -XX:TieredStopAtLevel=1 -cp "$work/classes:$packages" Check "$here/../fhirprofile/demands.tsv" "$codesystem" "$mapping" "${files[@]}"
