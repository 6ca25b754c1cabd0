#!/usr/bin/env bash
# The job array of docs/poses.md on a real workload manager: one of its tasks fails and is run again
# alone; what `gallery` makes of the shards has the bytes of an undivided sweep.
#
# usage: job_array.sh COMMAND MODEL PAGE     (as root: the manager's daemons want to be)
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
command=$(realpath "$1") model=$(realpath "$2") page=$(realpath "$3")
source "$here/one_node.sh"
work=$(mktemp -d)
trap 'stop_node; rm -rf "$work"' EXIT
chmod 755 "$work"
cd "$work"

fail() {
    echo "job array: $*" >&2
    exit 1
}

# The command under its own name; the third shard's first run ends before it has done anything.
mkdir bin
cat > bin/rakelight <<SH
#!/bin/sh
case "\$*" in *"--shard 3/8"*)
    if [ ! -e "$work/has-failed" ]; then touch "$work/has-failed"; exit 1; fi ;;
esac
exec "$command" "\$@"
SH
chmod 755 bin/rakelight
export PATH="$work/bin:$PATH" XDG_CACHE_HOME="$work/cache"

cat > medal.toml <<TOML
[blank]
width_mm = 38.0
rim_mm = 1.2
[model]
file = "$model"
[poses]
yaw_deg = { from = -60, to = 60, step = 6 }
TOML
rakelight poses medal.toml --longer-px 120 --out whole --quiet

# The page's script, at this test's size.
sed -n '/<!-- the job array -->/,/^```$/p' "$page" | sed '1,/^```sh$/d; /^```$/d' > sweep.sh
grep -q 'shard "$SLURM_ARRAY_TASK_ID/8"' sweep.sh || fail "the page has no script between its marks"
sed -i 's/--quiet/--quiet --longer-px 120/; s/cpus-per-task=2/cpus-per-task=1/' sweep.sh

start_node "$work/node"
if sbatch --quiet --wait sweep.sh; then fail "the array ended well although a task failed"; fi
[ -e has-failed ] || fail "the third task did not run"
if rakelight gallery medal-poses 2> said; then fail "a gallery of a broken sweep was made"; fi
grep -q missing said || fail "it was not said that poses are missing: $(cat said)"
sbatch --quiet --wait --array=3 sweep.sh || fail "the failed task, run alone, failed again"
rakelight gallery medal-poses --quiet
diff -r --exclude=timings.json whole medal-poses || fail "the joined shards differ from the undivided sweep"
[ "$(ls -d medal-poses/*/ | wc -l)" = 21 ] || fail "not 21 poses"
echo "job array: 8 tasks, one of them run again, joined to the bytes of the whole"
