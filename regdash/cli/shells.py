"""
Completion in bash. Bash splits words at "=", so that `class=par` arrives as three words and only the last of them
may be written; and after `class=` no space should follow. Other shells need nothing of the kind.
"""

import os
from typing import Any

from click.shell_completion import BashComplete, CompletionItem, add_completion_class, split_arg_string

BREAKS = ("=", ":")

SOURCE = """\
%(complete_func)s() {
    local IFS=$'\\n'
    local line
    COMPREPLY=()
    for line in $(COMP_WORDS="${COMP_WORDS[*]}" COMP_CWORD=$COMP_CWORD %(complete_var)s=bash_complete "$1"); do
        case $line in
            file,*) compopt -o default ;;
            dir,*) compopt -o dirnames ;;
            open,*) compopt -o nospace; COMPREPLY+=("${line#*,}") ;;
            *) COMPREPLY+=("${line#*,}") ;;
        esac
    done
}
complete -o nosort -F %(complete_func)s %(prog_name)s
"""


class Bash(BashComplete):
    """Bash, with the words put together again that it split."""

    source_template = SOURCE
    written = ""  # what of the current word stands before the part that bash replaces

    def get_completion_args(self) -> tuple[list[str], str]:
        """Read the line as it was typed."""
        words = split_arg_string(os.environ["COMP_WORDS"])
        current = int(os.environ["COMP_CWORD"])
        words += [""] * (current + 1 - len(words))
        *before, (self.written, part) = _joined(words[1 : current + 1])
        return [start + end for start, end in before], self.written + part

    def format_completion(self, item: CompletionItem[Any]) -> str:
        """Write the part of a candidate that bash is to put in."""
        kind = "open" if item.type == "plain" and item.value.endswith("=") else item.type
        value = item.value or ""
        return f"{kind},{value.removeprefix(self.written) if kind != 'dir' else value}"


def _joined(parts: list[str]) -> list[tuple[str, str]]:
    """
    Put words together that were split, each as what stands before its last part, and that part.

    >>> _joined(["risk", "class", "=", "par"]), _joined(["risk", "class", "="])
    ([('', 'risk'), ('class=', 'par')], [('', 'risk'), ('class=', '')])
    """
    words: list[tuple[str, str]] = []
    for part in parts:
        if part in BREAKS and words:
            words[-1] = ("".join(words[-1]) + part, "")
        elif words and words[-1][0] and not words[-1][1]:
            words[-1] = (words[-1][0], part)
        else:
            words.append(("", part))
    return words


def register() -> None:
    """Use it from now on."""
    add_completion_class(Bash)
