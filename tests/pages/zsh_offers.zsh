# zsh_offers.zsh FOLDER LINE: the list that an interactive zsh shows behind LINE.
# The line editor runs on a pseudo-terminal (zsh/zpty), so that this is what a user sees.
zmodload zsh/zpty
export TERM=vt100
zpty editor zsh -f -i
# The prompt says that the editor reads keys; what the terminal echoes before is spelled otherwise.
zpty -w editor "stty rows 500 cols 300; setopt no_prompt_sp; BAUD=0 LISTMAX=100000
fpath=(${(q)1}/zsh \$fpath); autoload -U compinit; compinit -D -u
bindkey '^I' list-choices; bindkey '^U' kill-whole-line; PS1='ready''> '"
zpty -r editor ignored '*ready> *'
zpty -w -n editor "$2"$'\t'
zpty -w editor $'\C-u'"print DONE-\$((1 + 1))"
zpty -r editor text '*DONE-2*'
zpty -d editor
print -r -- "$text" | tr -d '\0\r' | sed $'s/\e\\[[0-9;?]*[A-Za-z]/ /g'
