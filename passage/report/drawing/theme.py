"""Colours by day and by night, and their contrast.

Night is for a dark bridge: black, with light of long wavelength only, no brighter than
reading needs. Series differ in dash, mark and label first; colour only helps. Text has a
contrast of at least 4.5:1 on every background it may be on, marks and lines 3:1
(Web Content Accessibility Guidelines 2.1, criteria 1.4.3 and 1.4.11).
"""

from __future__ import annotations

#: Bounds of the shading classes of significant height [m], and their words, from the WMO
#: sea state code (table 3700).
SEA_BOUNDS_M = (0.5, 1.25, 2.5, 4.0, 6.0, 9.0)
SEA_WORDS = ("smooth", "slight", "moderate", "rough", "very rough", "high", "very high")

DAY = {
    "page": "#f6f4ee",
    "panel": "#fffefb",
    "inset": "#eeebe2",
    "ink": "#18222b",
    "soft": "#4b5862",
    "rule": "#cbc6b8",
    "grid": "#e3dfd4",
    "axis": "#7b7f7c",
    "link": "#0b4a6f",
    "focus": "#0b4a6f",
    "s1": "#0d4f8b",
    "s2": "#a8450c",
    "s3": "#2c6b33",
    "s4": "#6d2f8f",
    "s5": "#7a5b00",
    "s6": "#006a70",
    "limit": "#a5081d",
    "solid": "#0d4f8b",
    "limitground": "#fbe9e8",
    "caution": "#7a4a00",
    "cautionground": "#fbf0d9",
    "good": "#2c6b33",
    "stay": "#e9e4d3",
    "gap": "#b9b4a6",
    "land": "#ddd5c1",
    "shore": "#6f6753",
    "halo": "#fffefb",
    "sea0": "#f6faf9",
    "sea1": "#d9e7e9",
    "sea2": "#bdd7dd",
    "sea3": "#97bdcb",
    "sea4": "#6d9db5",
    "sea5": "#4a7b9b",
    "sea6": "#33597c",
}
NIGHT = {
    "page": "#000000",
    "panel": "#0b0200",
    "inset": "#170400",
    "ink": "#f5503a",
    "soft": "#e8452f",
    "rule": "#4a1208",
    "grid": "#2a0a04",
    "axis": "#b03822",
    "link": "#f0612a",
    "focus": "#f08a2a",
    "s1": "#f5503a",
    "s2": "#e07a1c",
    "s3": "#e04c38",
    "s4": "#c98a1a",
    "s5": "#e8603c",
    "s6": "#d66428",
    "limit": "#f08a2a",
    "solid": "#a33220",
    "limitground": "#1f0a00",
    "caution": "#e07a1c",
    "cautionground": "#170700",
    "good": "#e84a33",
    "stay": "#1d0803",
    "gap": "#5c1c0e",
    "land": "#1c0c05",
    "shore": "#a3401c",
    "halo": "#000000",
    "sea0": "#090000",
    "sea1": "#450802",
    "sea2": "#631303",
    "sea3": "#7b2204",
    "sea4": "#8f3204",
    "sea5": "#a04505",
    "sea6": "#ae5905",
}
#: Colours of words, and the backgrounds they may be on.
TEXT = ("ink", "soft", "link", "s1", "s2", "s3", "s4", "s5", "s6", "limit", "caution", "good")
GROUNDS = ("page", "panel", "inset", "limitground", "cautionground", "stay")
#: Colours of lines and marks that a chart cannot be read without.
MARKS = ("s1", "s2", "s3", "s4", "s5", "s6", "limit", "axis", "shore", "focus")


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb`` (WCAG 2.1, definition)."""
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.1, definition)."""
    a, b = luminance(one), luminance(other)
    return (max(a, b) + 0.05) / (min(a, b) + 0.05)


def sea_class(height_m: float) -> int:
    """Shading class of a significant height: index into ``SEA_WORDS``; -1 for NaN."""
    if height_m != height_m:
        return -1
    return sum(height_m > bound for bound in SEA_BOUNDS_M)


def variables(colours: dict[str, str]) -> str:
    """CSS custom properties of one theme."""
    return "".join(f"--{name}:{value};" for name, value in colours.items())


def style_sheet(rules: str) -> str:
    """The whole style sheet: both themes, then the rules of the template.

    Unless the reader chooses, the browser's preference decides; print is always by day.
    """
    day = f":root{{color-scheme:light;{variables(DAY)}}}"
    night = f"color-scheme:dark;{variables(NIGHT)}"
    screen = (
        f"@media screen{{:root[data-theme=night]{{{night}}}"
        f"@media (prefers-color-scheme:dark){{:root:not([data-theme=day]){{{night}}}}}}}"
    )
    return "\n".join((day, screen, rules))
