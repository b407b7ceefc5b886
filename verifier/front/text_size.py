"""How wide a text is when drawn, on the wide side, and where it is wrapped.

Source: the advance widths of DejaVu Sans, one of the widest fonts that stand for ``sans-serif``,
rounded up; a test compares them with the font itself.
"""

from __future__ import annotations

import re
import unicodedata

_CLASSES = (
    (0.32, " \u00a0',.IJijl"),
    (0.40, "()-/:;[\\]ft|"),
    (0.46, '!"r'),
    (0.53, "*_`sz"),
    (0.60, "?FLckvxy"),
    (0.64, "$0123456789EPSTYabdeghnopqu{}"),
    (0.70, "ABCKRVXZ"),
    (0.80, "&DGHNOQU"),
    (0.84, "#+<=>^w~→×"),
    (0.90, "M"),
    (1.00, "%@Wm…"),
)
_BOLD_CLASSES = (
    (0.38, " \u00a0',./IJ\\ijl|·"),
    (0.42, "-:;"),
    (0.46, "!()[]f"),
    (0.52, "_`rt"),
    (0.60, '"*?csz'),
    (0.70, "$0123456789EFLTaekovxy"),
    (0.75, "CPSYZbdghnpqu{}"),
    (0.85, "#+<=>ABDGHKNRUVX^~→×"),
    (0.90, "&OQ"),
    (1.01, "%@Mw…"),
    (1.11, "Wm"),
)
_EM = {sign: width for width, signs in _CLASSES for sign in signs}
_BOLD_EM = {sign: width for width, signs in _BOLD_CLASSES for sign in signs}


JOINTS = "_-."
"""Behind these a name may be cut."""


def width_of(text: str, size: float, bold: bool = False) -> float:
    """The width of a text in the units of its size.

    >>> round(width_of("iW", 10), 1)
    13.2
    """
    ems = 0.0
    for sign in text:
        known = (_BOLD_EM if bold else _EM).get(sign)
        if known is not None:
            ems += known
        elif not unicodedata.combining(sign):
            known_script = sign < "\u0370" or unicodedata.east_asian_width(sign) in "WF"
            ems += 1.2 if known_script else 1.7
    return ems * size


def wrapped(text: str, size: float, most: float, bold: bool = False, lines: int = 0) -> list[str]:
    """The text in lines of at most that width: between words, else behind ``_``, else anywhere.

    With ``lines`` there are at most so many; the last one then ends with an ellipsis.

    >>> wrapped("wait until motor_run is off", 10, 80)
    ['wait until', 'motor_run is', 'off']
    >>> wrapped("a_long_name", 10, 40), wrapped("one two three", 10, 30, lines=2)
    (['a_long_', 'name'], ['one', 'two…'])
    """
    found: list[str] = []
    for word in (word for word in text.split(" ") if word):
        if found and width_of(f"{found[-1]} {word}", size, bold) <= most:
            found[-1] = f"{found[-1]} {word}"
            continue
        if found and width_of(word, size, bold) > most * 0.7:
            # A long name goes on in the line as far as one of its joints.
            found[-1], word = _filled(found[-1], word, size, most, bold)
        found.extend(_pieces(word, size, most, bold))
    if lines and len(found) > lines:
        last = found[lines - 1]
        while last and width_of(f"{last}…", size, bold) > most:
            last = last[:-1]
        found = [*found[: lines - 1], f"{last.rstrip()}…"]
    return found


def kept_together(text: str) -> str:
    """The text with figures and their units on one line.

    >>> kept_together("wait 10 min")
    'wait 10\\xa0min'
    """
    return re.sub(r"(?<=\d) (?=(?:ms|s|min|h|%|deg|W)(?![\w]))", "\u00a0", text)


def _filled(line: str, word: str, size: float, most: float, bold: bool) -> tuple[str, str]:
    """The line with as much of the word as has room in it, and the rest of the word."""
    for end in range(len(word) - 1, 3, -1):
        if word[end - 1] in JOINTS and width_of(f"{line} {word[:end]}", size, bold) <= most:
            return f"{line} {word[:end]}", word[end:]
    return line, word


def _pieces(word: str, size: float, most: float, bold: bool) -> list[str]:
    """A word that may be too long for a line, cut."""
    pieces = []
    while width_of(word, size, bold) > most and len(word) > 1:
        end = 1
        while width_of(word[: end + 1], size, bold) <= most:
            end += 1
        joint = max(word.rfind(sign, 0, end) for sign in JOINTS)
        end = joint + 1 if joint > end / 3 else end
        pieces.append(word[:end])
        word = word[end:]
    return [*pieces, word]
