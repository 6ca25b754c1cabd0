#!/usr/bin/env bash
# Runs the examples of docs/build-systems.md as they stand there, with what is installed of a build:
#   build_systems.sh BUILD-FOLDER PAGE
# What is demanded of each tool: all is built; a second run does nothing; the model, or a file that
# it refers to, builds its own relief anew and no other; what comes out the same is not built on; a
# scene that fails fails the build and leaves no stamp.
set -euo pipefail
build=$1
page=$2
place=$(mktemp -d)
[ -n "${KEEP:-}" ] || trap 'rm -rf "$place"' EXIT
export XDG_CACHE_HOME=$place/cache
cmake --install "$build" --prefix "$place/usr" > "$place/install.log"

# Counts its runs on the way to the real command.
mkdir "$place/bin"
cat > "$place/bin/rakelight" << END
#!/bin/sh
echo "\$*" >> "$place/runs"
exec "$place/usr/bin/rakelight" "\$@" --context processor
END
chmod +x "$place/bin/rakelight"
export PATH=$place/bin:$PATH

fail() {
    echo "FAILED: $*" >&2
    cat "$place/log" >&2
    exit 1
}

# extract FILE: the example of that name.
extract() {
    sed -n "/<!-- file: $1 -->/,/^\`\`\`\$/p" "$page" | sed '1,2d;$d' > "$1"
    [ -s "$1" ] || fail "the page has no example $1"
}

# runs N COMMAND...: succeeds, and renders N times.
runs() {
    local wanted=$1 were
    shift
    : > "$place/runs"
    "$@" > "$place/log" 2>&1 || fail "$*: exit code $?"
    were=$(wc -l < "$place/runs")
    [ "$were" = "$wanted" ] || fail "$*: rendered $were times instead of $wanted"
}
fails() {
    "$@" > "$place/log" 2>&1 && fail "$*: expected a failure"
    return 0
}

# begin MODEL MATERIAL: a folder with two scenes, the model of the first referring to a file.
begin() {
    model=$1
    material=$2
    rm -rf "$place/work"
    mkdir "$place/work"
    cd "$place/work"
    printf '%s\n' "mtllib $material" 'v 0 0 0' 'v 1 0 0' 'v 0 1 0' 'usemtl pearl' 'f 1 2 3' > "$model"
    printf 'newmtl pearl\nKd 1 1 1\n' > "$material"
    printf 'v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n' > plain.obj
    local scene='[blank]\nwidth_mm = 10\n[image]\npx_per_mm = 5\n[model]\nfile = "%s"\n'
    printf "$scene" "$model" > medal.toml
    printf "$scene" plain.obj > tag.toml
    sleep 0.05
}
larger() { sed -i 's/^v 1 0 0/v 2 0 0/' "$1"; }
spoil() { cp medal.toml sound.toml.kept && echo 'wrong = 1' >> medal.toml; }

# try STAMP COMMAND...: what is demanded of every tool.
try() {
    local stamp=$1
    shift
    runs 2 "$@"
    runs 0 "$@"
    larger "$model"; runs 1 "$@"; runs 0 "$@"
    echo '# changed' >> "$material"; runs 1 "$@"; runs 0 "$@"
    touch plain.obj; runs 1 "$@"; runs 0 "$@"
    echo '# changed' >> tag.toml; runs 1 "$@"; runs 0 "$@"
    spoil; fails "$@"
    if [ -n "$stamp" ] && [ -e "$stamp" ]; then fail "$stamp stayed behind a scene that failed"; fi
    fails "$@"
    cp sound.toml.kept medal.toml; runs 1 "$@"; runs 0 "$@"
    mv "$material" other.mtl; sed -i 's/^mtllib.*/mtllib other.mtl/' "$model"
    runs 1 "$@"
    # CMake 3.25 keeps what a Makefile's dependencies once were.
    if [ "${generator:-}" != 'Unix Makefiles' ]; then runs 0 "$@"; fi
}

# A name with all that needs an escape.
begin 'the $ #1 shell.obj' 'the $ #1: shell.mtl'
extract Makefile
try medal.stamp make

begin 'the $ #1 shell.obj' 'the $ #1: shell.mtl'
extract build.ninja
try '' ninja
# What is made of the pictures is not made again when they came out the same.
cat >> build.ninja << 'END'
rule count
  command = echo >> counted && touch $out
build counting: count medal-passes/manifest.json
END
runs 0 ninja
touch "$model"; runs 1 ninja
[ "$(wc -l < counted)" = 1 ] || fail "ninja built on pictures that had not changed"
sed -i 's/^v 2 0 0/v 3 0 0/' "$model"; runs 1 ninja
[ "$(wc -l < counted)" = 2 ] || fail "ninja did not build on pictures that had changed"

for generator in Ninja 'Unix Makefiles'; do
    begin 'the shell.obj' 'the shell.mtl'  # CMake 3.25 loses # $ : of a dependency file
    extract CMakeLists.txt
    # The counting command in place of the installed one.
    cat >> CMakeLists.txt << END
set_target_properties(rakelight::rakelight PROPERTIES IMPORTED_LOCATION_RELEASE "$place/bin/rakelight"
    IMPORTED_LOCATION_RELWITHDEBINFO "$place/bin/rakelight" IMPORTED_LOCATION "$place/bin/rakelight")
END
    cmake -G "$generator" -S . -B out -DCMAKE_PREFIX_PATH="$place/usr" > "$place/log" 2>&1 ||
        fail "cmake -G $generator"
    try out/medal.stamp cmake --build out
    [ -f out/medal/manifest.json ] && [ -f out/tag/depth.png ] || fail "$generator: no pictures"
done

begin shell.obj shell.mtl
extract poses.mk
runs 1 make -f poses.mk
runs 0 make -f poses.mk
[ -f medal-poses/yaw20/pose.json ] || fail "the sweep has no pose yaw20"
stat -c '%n %i %y' medal-poses/*/* > before
touch shell.mtl; runs 1 make -f poses.mk
stat -c '%n %i %y' medal-poses/*/* | cmp - before || fail "a sweep of an unchanged model touched it"
larger shell.obj; runs 1 make -f poses.mk; runs 0 make -f poses.mk

begin shell.obj shell.mtl
extract reliefs.sh
runs 2 sh reliefs.sh
pictures_and_times() { stat -c '%n %i %y' ./*-passes/* | grep -v timings.json; }
pictures_and_times > before
runs 2 sh reliefs.sh
pictures_and_times | cmp - before || fail "an unchanged run touched its outputs"
spoil
fails sh reliefs.sh

# A dry run names what a run then writes, and writes nothing itself.
begin shell.obj shell.mtl
every='pass={depth={},occlusion={},curvature={},silhouette={},contour={},normal={},undercut={},steep={},blank={},parts={names=["*"],depth=true}}'
for names in '{pass}' '{scene} of {pass}'; do
    rm -rf medal-passes
    ls > before
    rakelight render medal.toml --set "$every" --files "$names" --dry-run > planned 2> "$place/log"
    ls | grep -v planned | cmp - before || fail "a dry run wrote something"
    rakelight render medal.toml --set "$every" --files "$names" --quiet > "$place/log" 2>&1
    find "$PWD/medal-passes" -type f | sort > written
    sort planned | cmp - written || fail "a dry run with $names named other files"
    rm planned written before
done
# Scenes share a folder when their files are called by them, and not otherwise.
fails rakelight render medal.toml tag.toml --set output.folder=both --dry-run
runs 1 rakelight render medal.toml tag.toml --set output.folder=both --files '{scene}-{pass}' --quiet
[ -f both/medal-manifest.json ] && [ -f both/tag-depth.png ] || fail "two scenes in a folder"
# What no dependency file can hold is refused before anything is written, the stamp taken away.
cp tag.toml "it's.toml"
touch stamp
fails rakelight render "it's.toml" --depfile d --stamp stamp --quiet
[ ! -e stamp ] && [ ! -e d ] && [ ! -e "it's-passes" ] || fail "a refused run wrote something"

command=$(PKG_CONFIG_PATH=$(dirname "$(find "$place/usr" -name rakelight.pc)") pkg-config --variable=command rakelight)
"$command" --version > "$place/log" || fail "pkg-config names no command"
echo "all examples of the page do what it says"
