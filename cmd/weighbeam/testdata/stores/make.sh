#!/usr/bin/env bash
# Makes a small house with the program of a commit, and keeps its store for the
# tests of later ones: make.sh COMMIT. Needs Go, git, curl and sqlite3. Beside
# schema-N.db.gz it writes schema-N.jsonl.gz, what that program itself exported.
#
# The house has 75 days of a cat that loses weight and one that does not, checks of
# which one was taken back, a payload set aside, a finding with notices that
# nobody takes, an answer to it, a calibration and a visit that was named by hand.
set -euo pipefail
commit=${1:?commit or tag}
for need in curl sqlite3; do command -v $need > /dev/null || { echo "install $need"; exit 1; }; done
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here" && git rev-parse --show-toplevel)
work=$(mktemp -d)
pid=
trap '[ -z "$pid" ] || kill "$pid" 2>/dev/null || true; git -C "$root" worktree remove --force "$work/tree" 2>/dev/null || true; rm -rf "$work"' EXIT

# The binary of the tests is the program, with a clock that can be set.
git -C "$root" worktree add -q --detach "$work/tree" "$commit"
(cd "$work/tree" && go test -c -o "$work/program" ./cmd/weighbeam)
export WEIGHBEAM_BE_THE_PROGRAM=1 WEIGHBEAM_CLOCK=$work/clock
cd "$work"
printf 2025-03-22T12:00:00Z > clock
./program simulate house --days 75 --cats 2 --unwell 1 --scales 1 > /dev/null
cat > w.toml <<END
data = "house.db"
household = "house/household.toml"
zone = "UTC"
listen = "127.0.0.1:18640"
[broker]
listen = "127.0.0.1:0"
[[webhook]]
name = "phone"
url = "http://127.0.0.1:9/"
[[command]]
name = "bell"
run = ["/bin/true"]
END
echo '2025-03-22T11:00:00Z,box-hall,weight,heavy,kg' >> house/readings.csv
./program import --config w.toml house/readings.csv > /dev/null
./program serve --config w.toml > log 2>&1 &
pid=$!
pages=http://127.0.0.1:18640

waits() { # for a command to find something, a minute at the most
  for _ in $(seq 300); do "$@" > found 2>/dev/null && [ -s found ] && return; sleep 0.2; done
  echo "never: $*"; cat log; exit 1
}
asked() { sqlite3 "file:house.db?mode=ro" "$1"; }
posted() { curl -sS -o answer -w '%{http_code}' "$@" | grep -q '^[23]' || { echo "refused: $*"; cat answer; exit 1; }; }

waits curl -sf "$pages/healthz"
waits asked "SELECT 1 FROM finding WHERE sign = 'weight-falling' LIMIT 1"
printf 2025-03-22T12:01:00Z > clock # what stood already is told after a moment
waits asked "SELECT 1 FROM notice WHERE attempts > 0 LIMIT 1"
waits asked "SELECT 1 FROM notice WHERE state = 'sent' LIMIT 1"
./program check quill --config w.toml --at 2025-03-22T11:30:00Z --weight 4.24 --breaths 11/30 --state asleep --by Ada --note "on the sofa" > /dev/null
./program check bramble --config w.toml --at 2025-03-22T11:31:00Z --weight 4.31 --by Ada > /dev/null
wrong=$(asked "SELECT h.id FROM home_check h JOIN slug s ON s.id = h.cat WHERE s.text = 'bramble'")
posted "$pages/check/bramble/take-back" -d matter=check --data-urlencode "target=$wrong" -d by=Ada -d "why=the other cat"
posted "$pages/check/bramble/event" -d id=stay-1 -d kind=away -d unit=kg -d from=2025-02-10T08:00 -d until=2025-02-12T18:00 -d by=Ada
finding=$(asked "SELECT id FROM finding WHERE sign = 'weight-falling'")
posted "$pages/answer" -d id=answer-1 --data-urlencode "finding=$finding" -d kind=vet-knows -d by=Ada
visit=$(asked "SELECT start FROM visit WHERE cat = 0 ORDER BY start DESC LIMIT 1")
posted "$pages/whose/box-hall/$visit" -d who=quill -d by=Ada
printf 'mass,reading\n0,0.002\n0,0.002\n2,2.011\n2,2.012\n4,4.020\n4,4.021\n' > points.csv
./program calibrate box-hall --config w.toml --points points.csv --since now --by Ada > /dev/null
printf 2025-03-22T12:30:00Z > clock
waits asked "SELECT 1 FROM reaction"
before=
for _ in $(seq 100); do # until nothing more is written
  now=$(asked "SELECT (SELECT max(id) FROM journal) || ' ' || (SELECT group_concat(journal) FROM cursor) || ' ' || (SELECT count(*) FROM notice_step)")
  [ "$now" = "$before" ] && break
  before=$now; sleep 2
done
kill -INT "$pid"; wait "$pid" || true; pid=
./program backup --config w.toml kept.db > /dev/null
./program export --config w.toml --to kept.jsonl > /dev/null
schema=$(sqlite3 kept.db 'PRAGMA user_version')
gzip -n -9 < kept.db > "$here/schema-$schema.db.gz"
gzip -n -9 < kept.jsonl > "$here/schema-$schema.jsonl.gz"

# The other way round: that program refuses what this one wrote, where the schema grew.
cd "$root" && go build -o "$work/newest" ./cmd/weighbeam && cd "$work"
newest=$(ls "$root"/store/migrations/*.sql | wc -l)
if [ "$newest" -gt "$schema" ]; then
  cp kept.db newer.db
  "$work/newest" import --data newer.db house/readings.csv > /dev/null
  if ./program import --data newer.db house/readings.csv > refused 2>&1; then echo "schema $schema took schema $newest"; exit 1; fi
  cat refused
fi
ls -l "$here/schema-$schema".*
