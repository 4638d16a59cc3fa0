#!/usr/bin/env bash
# Builds a release: release.sh VERSION FOLDER. The same commit and version give the
# same bytes. Needs Go and git; the two tools come by go run, at one version each.
set -euo pipefail
cd "$(dirname "$0")/.."
version=${1:?version, as 1.2.0} out=${2:?folder to write}
go=${GO:-go}
sbom=github.com/CycloneDX/cyclonedx-gomod/cmd/cyclonedx-gomod@v1.10.0
nfpm=github.com/goreleaser/nfpm/v2/cmd/nfpm@v2.45.2
targets=${TARGETS:-linux/amd64 linux/arm64 linux/arm/7 linux/arm/6 darwin/amd64 darwin/arm64 windows/amd64}

SOURCE_DATE_EPOCH=$(git log -1 --format=%ct)
day=$(date -u -d "@$SOURCE_DATE_EPOCH" +%F)
export SOURCE_DATE_EPOCH VERSION=$version
mkdir -p "$out"
out=$(cd "$out" && pwd)
flags="-s -w -buildid= -X main.version=$version -X main.released=$day"

build() { # os arch arm file
  CGO_ENABLED=0 GOOS=$1 GOARCH=$2 GOARM=$3 GOFLAGS= $go build -trimpath -buildvcs=false -ldflags "$flags" -o "$4" ./cmd/weighbeam
}

own=$(mktemp -d)
trap 'rm -rf "$own"' EXIT
build "$($go env GOHOSTOS)" "$($go env GOHOSTARCH)" "" "$own/weighbeam"
"$own/weighbeam" man | gzip -n -9 > "$own/weighbeam.1.gz"
echo 'complete -C /usr/bin/weighbeam weighbeam' > "$own/weighbeam.bash"
cp "$own/weighbeam.1.gz" "$out/"

for target in $targets; do
  IFS=/ read -r os arch arm <<< "$target"
  name=weighbeam-$version-$os-$arch${arm:+v$arm}
  ending=; [ "$os" = windows ] && ending=.exe
  build "$os" "$arch" "${arm:-}" "$out/$name$ending"
  [ "$os" = linux ] || continue
  debian=$arch; [ "$arch" = arm ] && debian=armhf # which is what boards with ARMv6 call themselves, too
  cp "$out/$name" "$own/weighbeam"
  ARCH=$debian FILES=$own $go run "$nfpm" package --config deploy/nfpm.yaml --packager deb --target "$out/$name.deb" > /dev/null
done

# The list names the tool by its bytes: those must not depend on where it was built.
CGO_ENABLED=0 GOFLAGS=-trimpath $go run "$sbom" app -json -noserial -notimestamp -main cmd/weighbeam -output "$out/weighbeam-$version.cdx.json" .
cd "$out"
rm -f SHA256SUMS
sha256sum ./* > "$own/SHA256SUMS"
mv "$own/SHA256SUMS" .
