"""Units of the trade that the library does not know, or knows as something else: of chambers, acoustics, clothing and cloth.

References
----------
`clo`: Thompson and Taylor, Guide for the Use of the International System of Units (SI), NIST Special Publication 811 (2008),
appendix B.8: 1.55 E-01 m2.K/W; ISO 11079 has the same. `tog`: a tenth of a m2.K/W (BS 4745; from memory). `met`: 58.2 W/m2 of
body surface (ISO 7730:2005; from memory). `sone`: loudness, which is proportional to it (ISO 532-1), and no level: it goes into
nothing else. `phon` and decibels are levels, and are not converted.
"""

from __future__ import annotations

import re

#: In the words of the library. `cfm` would else be some small length.
DEFINITIONS = (
    "ppb = 1e-9",
    "clo = 0.155 * meter ** 2 * kelvin / watt",
    "tog = 0.1 * meter ** 2 * kelvin / watt",
    "met = 58.2 * watt / meter ** 2",
    "sone = [loudness]",
    "gsm = gram / meter ** 2",
    "cfm = foot ** 3 / minute",
)
#: Shares of a gas in air; a mass of it is another thing.
SHARES = frozenset({"ppm", "ppb", "%"})
#: Levels by their weighting; without one, or weighted by A, it is `dB`. None is converted, nor held for another.
LEVELS = frozenset({"dB", "dB_B", "dB_C", "dB_D", "dB_Z"})
#: What is written in place of what a report has, before it is taken apart.
REWRITTEN = (
    (re.compile(r"\bdB\s*\(?A\)?"), "dB"),
    (re.compile(r"\bdB\s*(?:\(([BCDZ])\)|([BCDZ]))(?!\w)"), r"dB_\1\2"),
    (re.compile(r"""^(?:"|''|′′)$"""), "inch"),
    (re.compile(r"^['′]$"), "foot"),
    (re.compile(r"%\s*r\.?\s?h\.?$", re.IGNORECASE), "%"),
)
#: Other spellings of a name.
SPELLINGS = {"ppbv": "ppb", "ppmv": "ppm", "sones": "sone", "togs": "tog", "mets": "met", "GSM": "gsm", "CFM": "cfm"}
