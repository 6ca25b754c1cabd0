#!/usr/bin/env bash
# Holds man pages and completions against the command's own help:
#   pages.sh COMMAND FOLDER
# What is demanded: each command, option, value, choice and default of the help stands in its page, and
# is offered by each shell when the shell itself is asked; mandoc, whose checks follow man(7) and
# roff(7), has nothing to warn of. A program that is not installed is left out, and that is said.
set -euo pipefail
command=$(realpath "$1")
folder=$(realpath "$2")
here=$(cd "$(dirname "$0")" && pwd)
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
export HOME=$place LC_ALL=C.UTF-8
faults=0

fail() {
    echo "FAILED: $*" >&2
    faults=$((faults + 1))
}

# What the help says: "  --out FOLDER    Folder ..." and the like.
commands() { "$command" --help | sed -n '/^Subcommands:/,/^$/s/^  \([a-z]\+\) .*/\1/p'; }
options() { "$command" $1 --help | grep -oE '^  (-[a-z],)?-[-a-z]+' | tr -d ' ' | tr ',' '\n'; }
choices() { "$command" $1 --help | sed -n "s/^  $2 [A-Z]*:{\([^}]*\)}.*/\1/p" | tr ',' ' '; }

# The page as a reader sees it: by mandoc, or else without its macros.
page_text() {
    if command -v mandoc > /dev/null; then
        mandoc -T utf8 -O width=1000 "$1" | sed $'s/.\b//g'
    else
        sed -e 's/\\f[BIR]//g' -e 's/\\-/-/g' -e 's/\\(aq/'"'"'/g' -e 's/\\e/\\/g' "$1"
    fi
}

# holds TEXT WORD WHERE: as a word of its own.
holds() {
    grep -qE -- "(^|[^a-zA-Z-])${2//+/\\+}([^a-zA-Z-]|\$)" <<< "$1" || fail "$3 lacks $2"
}

# says TEXT WORDS WHERE: the words as they are.
says() {
    grep -qF -- "$2" <<< "$1" || fail "$3 lacks \"$2\""
}

# lacks TEXT WORDS WHERE
lacks() {
    if grep -qF -- "$2" <<< "$1"; then fail "$3 has $2"; fi
}

# What the help says, in its page: names, meanings, examples, defaults, choices.
check_page() {
    local page=$folder/man1/rakelight${1:+-$1}.1 text option words
    [ -s "$page" ] || { fail "$page is missing"; return; }
    text=$(page_text "$page")
    for option in $(options "$1"); do holds "$text" "$option" "$page"; done
    text=$(tr -s ' \n' '  ' <<< "$text")
    while read -r words; do
        says "$text" "$words" "$page"
    done < <("$command" $1 --help |
             sed -nE 's/^ {20,}([^ ].*)/\1/p;t;s/^  .*[^ ]  +([^ ].*)/\1/p;t;s/^  (rakelight .*)/\1/p' |
             tr -d '`')
    while read -r words; do
        holds "$text" "$words" "$page"
    done < <("$command" $1 --help | grep -oE '^  -[^ ]+ [A-Z/=]+[^ ]*=[a-z0-9]+ ' | sed 's/.*=//; s/ //')
    for words in $("$command" $1 --help | sed -nE 's/^  -.*:\{([^}]*)\}.*/\1/p' | tr ',' ' '); do
        holds "$text" "$words" "$page"
    done
    if command -v mandoc > /dev/null; then
        mandoc -T lint -W warning "$page" || fail "mandoc warns of $page"
    fi
}

# offers SHELL LINE
offers() {
    case $1 in
        bash) bash "$here/bash_offers.sh" "$folder" "$2" ;;
        zsh) zsh -f "$here/zsh_offers.zsh" "$folder" "$2" ;;
        fish) fish --no-config -c 'source $argv[1]; complete -C $argv[2]' \
            "$folder/fish/rakelight.fish" "$2" | cut -f 1 ;;
    esac
}

check_names() {
    local shell=$1 text name option
    text=$(offers "$shell" "rakelight ")
    for name in $(commands); do holds "$text" "$name" "$shell"; done
    text=$(offers "$shell" "rakelight -")
    for option in $(options ""); do holds "$text" "$option" "$shell, rakelight"; done
    for name in $(commands); do
        text=$(offers "$shell" "rakelight $name -")
        for option in $(options "$name"); do holds "$text" "$option" "$shell, $name"; done
    done
}

# Choices are those of the help, with a blank and with "=", and nothing else is offered.
check_choices() {
    local shell=$1 pair text word
    for pair in "render --context" "poses --by" "inspect --up"; do
        [ -n "$(choices $pair)" ] || fail "the help has no choices for $pair"
        for text in "$(offers "$shell" "rakelight $pair ")" "$(offers "$shell" "rakelight $pair=")"; do
            for word in $(choices $pair); do holds "$text" "$word" "$shell, $pair"; done
            lacks "$text" medal.toml "$shell, $pair"
        done
    done
    text=$(offers "$shell" "rakelight render --context e")
    holds "$text" egl "$shell, --context e"
    lacks "$text" glfw "$shell, --context e"
}

# Scenes, files and folders, with a name that needs quoting.
check_files() {
    local shell=$1 text
    text=$(offers "$shell" "rakelight render m")
    holds "$text" medal.toml "$shell, SCENE"
    holds "$text" models "$shell, SCENE"
    text=$(offers "$shell" "rakelight inspect sh")
    holds "$text" shell.ply "$shell, MODEL"
    text=$(offers "$shell" "rakelight inspect --picture=sh")
    holds "$text" shell.ply "$shell, FILE"
    text=$(offers "$shell" "rakelight render --out m")
    holds "$text" models "$shell, FOLDER"
    lacks "$text" medal.toml "$shell, FOLDER"
    text=$(offers "$shell" "rakelight poses --best m")
    lacks "$text" medal.toml "$shell, COUNT"
    text=$(offers "$shell" "rakelight lock club")
    grep -qE 'club(\\)? medal.toml' <<< "$text" || fail "$shell does not offer 'club medal.toml'"
}

check_page ""
for name in $(commands); do check_page "$name"; done
count=$(commands | wc -l)
[ "$count" -gt 5 ] && [ "$(options render | wc -l)" -gt 15 ] || fail "the help could not be read"

cd "$place"
mkdir models
touch medal.toml "club medal.toml" shell.ply
for shell in bash zsh fish; do
    if ! command -v "$shell" > /dev/null; then
        echo "$shell is not installed: left out"
        continue
    fi
    check_names "$shell"
    check_choices "$shell"
    check_files "$shell"
done
command -v mandoc > /dev/null || echo "mandoc is not installed: left out"
echo "$count commands, $faults faults"
[ "$faults" -eq 0 ]
