#!/usr/bin/env bash
# Bugs planted in the real source of the server's protocol: each is built into a copy, and the simulation
# must fail on it. For the full profile; it needs some minutes and a compiler.
#
#   tests/sync/planted.sh            all of them
#   tests/sync/planted.sh dedupe     those whose name has this in it
set -euo pipefail
cd "$(dirname "$0")/../.."
only=${1:-}
seeds=${SEEDS:-500}
copy=$(mktemp -d)
trap 'rm -rf "$copy"' EXIT
export CARGO_TARGET_DIR=${CARGO_TARGET_DIR:-$PWD/target}/planted CARGO_TERM_COLOR=never
# Quick to build: the bugs are many, the runs short.
export CARGO_PROFILE_RELEASE_LTO=off CARGO_PROFILE_RELEASE_CODEGEN_UNITS=16 CARGO_PROFILE_RELEASE_OPT_LEVEL=1

mkdir -p "$copy/server" "$copy/tests"
cp -r server/domain server/store server/sync "$copy/server/"
cp -r tests/sync "$copy/tests/"
cp Cargo.lock "$copy/"
{
  printf '[workspace]\nmembers = ["server/domain", "server/store", "server/sync", "tests/sync"]\nresolver = "3"\n\n'
  sed -n '/^\[workspace\.lints/,$p' Cargo.toml
} >"$copy/Cargo.toml"

failed=0
ran=0

# name, file, what stands there (exactly once), what stands there instead
plant() {
  local name=$1 file=$2
  [[ $name == *"$only"* ]] || return 0
  cp "$file" "$copy/$file"
  OLD=$3 NEW=$4 python3 - "$copy/$file" <<'PY'
import os, sys
path, old, new = sys.argv[1], os.environ["OLD"], os.environ["NEW"]
text = open(path).read()
if text.count(old) != 1:
    sys.exit(f"planted.sh: in {path} this stands {text.count(old)} times, not once: {old}")
open(path, "w").write(text.replace(old, new))
PY
  local out status=0
  (cd "$copy" && RUSTFLAGS="-A warnings" cargo build -q --release -p simulate)
  out=$("$CARGO_TARGET_DIR/release/simulate" --seeds "$seeds" --last 0) || status=$?
  cp "$file" "$copy/$file"
  ran=$((ran + 1))
  if ((status == 1)); then
    printf '%-28s %s\n' "$name" "$(head -1 <<<"$out" | cut -c1-150)"
  else
    printf '%-28s NOT CAUGHT in %s seeds\n' "$name" "$seeds"
    failed=1
  fi
}

writer=server/sync/src/writer.rs
plant "no dedupe" $writer 'if envelope.n <= last {' 'if envelope.n <= last && envelope.n > last {'
plant "gap ignored" $writer 'if envelope.n != last + 1 {' 'if envelope.n == 0 {'
plant "fork ignored" $writer \
  'Some(entry) if entry.op_id == envelope.id && entry.digest == envelope.digest => {' 'Some(entry) => {'
plant "batch all or error" $writer 'Err(_) if !results.is_empty() => break,' ''
plant "newer version taken" $writer 'if op.v > OP_VERSION {' 'if op.v > OP_VERSION + 9 {'
plant "any session" $writer '.is_some_and(|s| s.person == person && s.ended.is_none_or(|ended| at <= ended));' '.is_none_or(|_| true);'
plant "precondition ignored" $writer 'decide(&self.state, &op.act, &op.expect, &context)' \
  'decide(&self.state, &op.act, &[], &context)'
plant "no floor under times" $writer 'before.max(seen)' 'seen'
plant "answered though not kept" $writer 'Some(why) => Err(PushError::ReadOnly(why.clone())),' \
  'Some(_) => answer.map(|ops| Results { head: self.head.seq, ops }),'
# The epoch at a push alone is covered for by the gap, the pull and the last number: not in this list.
plant "any client" server/sync/src/control.rs '(owner == caller.person || beside()).then_some(owner)' 'Some(caller.person)'
plant "history not compared" server/sync/src/pull.rs 'query.after > 0 && query.hash' 'query.after == u64::MAX && query.hash'
plant "page as if whole" server/sync/src/pull.rs 'more: found.more,' 'more: false,'
plant "patch without removals" server/sync/src/change.rs 'patch.insert(name.clone(), Value::Null);' 'let _ = name;'
# No document of this small shop holds a null; change.rs has a test of its own for those.
plant "tables behind" server/sync/src/index.rs 'while line.applied < seq && line.broken.is_none() {' 'while line.applied < seq && line.broken.is_some() {'
plant "facts need a free card" server/domain/src/decide/work.rs \
  'self.leave_running_work(&card);' 'self.can_be_taken(&card, by)?; self.leave_running_work(&card);'
plant "two holders" server/domain/src/decide/work.rs 'if card.taken_by.is_some_and(|holder| holder != by) {
            let message = "Somebody else has taken this.";' 'if card.taken_by == Some(by) {
            let message = "Somebody else has taken this.";'

printf '%d planted\n' "$ran"
exit $failed
