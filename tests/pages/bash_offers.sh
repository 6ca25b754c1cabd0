# bash_offers.sh FOLDER LINE: what bash offers behind LINE, one a line.
# readline cuts a line at COMP_WORDBREAKS, of which "=" matters here (bash's manual, Programmable
# Completion).
set -u
source "$1/bash/rakelight"
line=${2//=/ = }
read -ra COMP_WORDS <<< "$line"
[[ $line != *" " ]] || COMP_WORDS+=("")
[[ $2 != *= ]] || unset 'COMP_WORDS[-1]'
COMP_CWORD=$((${#COMP_WORDS[@]} - 1))
offering=$(complete -p rakelight | sed 's/.*-F \([^ ]*\) .*/\1/')
"$offering" rakelight
printf '%s\n' "${COMPREPLY[@]}"
