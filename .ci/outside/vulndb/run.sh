#!/usr/bin/env bash
# Known vulnerabilities that the program reaches, by govulncheck. The database comes
# as a Go module through the module proxy, the newest version there is; the file
# "version" holds the one that was looked at last and stands in when the proxy knows
# no newer. Nothing else is asked of the network.
#
#   bash .ci/outside/vulndb/run.sh GOVULNCHECK PACKAGE...
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
check=$1
shift
pinned=$(<"$here/version")
version=$(go list -m -f '{{.Version}}' golang.org/x/vulndb@latest)
[[ $version > $pinned ]] || version=$pinned # both are pseudo-versions: the time comes first
echo "golang.org/x/vulndb $version (pinned: $pinned), $(go env GOVERSION)"
db=$(mktemp -d)
trap 'rm -rf "$db"' EXIT
# One pinned copy has the form of the module; -mod=mod never touches ours.
folder=$(cd "$db" && GOFLAGS=-mod=mod go mod download -json "golang.org/x/vulndb@$version" | sed -n 's/^\t"Dir": "\(.*\)",$/\1/p')
[[ -d $folder ]] || { echo "the database was not downloaded" >&2; exit 1; }
go run "$here" "$folder" "$db/v1"
# It must be able to fail: a program that reaches a known fault is named.
mkdir "$db/known"
cat >"$db/known/go.mod" <<'MOD'
module known

go 1.26

require golang.org/x/text v0.3.5
MOD
cat >"$db/known/main.go" <<'GO'
package main

import "golang.org/x/text/language"

func main() { _, _, _ = language.ParseAcceptLanguage("en") }
GO
(
  cd "$db/known"
  go mod tidy >/dev/null 2>&1
  if "$check" -db "file://$db/v1" ./... >"$db/known.txt" 2>&1; then
    echo "a known vulnerability (GO-2021-0113) was not named" >&2
    exit 1
  fi
  grep -q 'GO-2021-0113' "$db/known.txt" || { cat "$db/known.txt" >&2; exit 1; }
)
"$check" -db "file://$db/v1" "$@"
