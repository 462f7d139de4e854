"""Voltage: what is refused (mains, and anything above extra-low voltage), and what is warned of."""

from __future__ import annotations

import re
from collections.abc import Iterator

from placer.circuit.model import Circuit, Net, Part
from placer.errors import Diagnostic
from placer.limits import laws, values
from placer.limits.words import figures, listed
from placer.plan.findings import Finding

CAUTION = "such boards are for extra-low voltage; leave the rest to certified modules and to licensed hands"

# Nominal voltages of public supplies (IEC 60038 and its neighbours; from memory).
NOMINAL = {
    100.0,
    110.0,
    115.0,
    117.0,
    120.0,
    127.0,
    200.0,
    208.0,
    220.0,
    230.0,
    240.0,
    277.0,
    380.0,
    400.0,
    415.0,
    480.0,
}
# Words stand alone: next to letters they are parts of others ("remains").
MAINS = re.compile(r"(?<![a-z])mains(?![a-z])", re.I)
NOT_MAINS = re.compile(r"(?<![a-z])(?:no|not|non|never|without)[\s_-]+(?:the[\s_-]+)?mains", re.I)
# Mains hum and its filters are signals at any voltage.
ABOUT_HUM = re.compile(r"mains[\s_-]+(?:hum|noise|filter|notch|ripple|frequency|reject)", re.I)
_NUMBER = r"(?:(?<=\.\.)|(?<![A-Za-z0-9.]))[+-]?(\d+(?:\.\d+)?)"
AC_VOLTS = (
    re.compile(_NUMBER + r"[\s_]*V(?:olts?)?[\s_]*(?:AC|RMS|~)(?![a-z])", re.I),
    re.compile(_NUMBER + r"[\s_]*(?:AC|~)[\s_]*V(?![a-z])", re.I),
    re.compile(r"(?<![a-z])(?:VAC|AC)[\s_]*(\d+(?:\.\d+)?)(?![A-Za-z0-9.])(?![\s_]*(?:Hz|A|mA|W))", re.I),
    re.compile(r"(?<![a-z])AC[\s_]*(\d+(?:\.\d+)?)[\s_]*V(?![a-z])", re.I),
)
PLAIN_VOLTS = re.compile(_NUMBER + r"[\s_]*V(?:olts?)?(?![a-z])(?![\s_]*(?:DC|AC|RMS|~))", re.I)
DC_VOLTS = re.compile(_NUMBER + r"[\s_]*V[\s_]*DC(?![a-z])", re.I)

LINES, NEUTRALS, EARTHS = {"l", "l1", "l2", "l3", "line", "phase"}, {"n", "neutral"}, {"pe"}


def refusals(circuit: Circuit) -> tuple[Diagnostic, ...]:
    """Return why a circuit is not for such a board, () where nothing speaks against it."""
    return tuple(
        Diagnostic(finding.code, f"{finding.message} ({finding.source})", finding.mend)
        for finding in voltage_findings(circuit)
        if finding.severity == "error"
    )


def voltage_findings(circuit: Circuit) -> Iterator[Finding]:
    """Say which nets are above what may be touched, and what is refused."""
    yield from _by_volts(circuit)
    yield from _by_words(circuit)
    yield from _by_conductors(circuit)


def _by_volts(circuit: Circuit) -> Iterator[Finding]:
    for net in circuit.nets:
        if net.volts is not None:
            yield from _judged(abs(net.volts), net.ac, f"net {net.name} has", (net.name,))
    direct = [net for net in circuit.nets if net.volts is not None and not net.ac]
    if len(direct) > 1:
        high, low = max(direct, key=_volts), min(direct, key=_volts)
        if _volts(high) > 0 > _volts(low):  # else the net against ground says it already
            where = (high.name, low.name)
            yield from _judged(_volts(high) - _volts(low), False, f"between nets {where[0]} and {where[1]} are", where)


def _volts(net: Net) -> float:
    return net.volts or 0.0


def _judged(volts: float, ac: bool, subject: str, where: tuple[str, ...]) -> Iterator[Finding]:
    kind = "V AC" if ac else "V DC"
    refuse, warn = (laws.REFUSE_AC, laws.WARN_AC) if ac else (laws.REFUSE_DC, laws.WARN_DC)
    if volts > refuse:
        yield Finding(
            "above-extra-low-voltage",
            "error",
            f"{subject} {volts:g} {kind}; the most for such a board is {refuse:g} {kind}",
            where,
            figures(volts_V=volts, limit_V=refuse),
            laws.REFUSE_SOURCE,
            CAUTION,
        )
    elif volts > warn:
        yield Finding(
            "above-touchable-voltage",
            "warning",
            f"{subject} {volts:g} {kind}; above {warn:g} {kind} bare copper must not be within reach",
            where,
            figures(volts_V=volts, limit_V=warn),
            laws.WARN_SOURCE,
            "build it into a closed case; local codes and licensed practice come first",
        )


def _by_words(circuit: Circuit) -> Iterator[Finding]:
    """Names and values that speak of the mains."""
    for net in circuit.nets:
        found = mains_in(net.name, entry=True, plain=net.volts is None or net.ac)
        if found:
            yield _mains(f"net {net.name}", found, (net.name,))
    for part in circuit.parts:
        found = mains_in(part.value, entry=_takes_power(part, circuit))
        if found:
            yield _mains(f"part {part.ref} with the value {part.value}", found, (part.ref,))


def mains_in(text: str, *, entry: bool, plain: bool = True) -> str:
    """Return the words of a text that speak of the mains, "" where none do.

    ``entry``: the text names something that power comes in by; elsewhere a voltage is a rating (``100n 250 VAC``).
    ``plain``: a voltage that does not say AC may be one; of a net that says its direct ``volts`` it is not.

    >>> [mains_in(text, entry=True) for text in ("230 V", "24 VAC", "remains", "MAINS_L", "AC120", "mains hum filter")]
    ['230 V', '', '', 'MAINS', 'AC120', '']
    """
    match = MAINS.search(text)
    if match and not NOT_MAINS.search(text) and not ABOUT_HUM.search(text):
        return match[0]
    if not entry:
        return ""
    for pattern in AC_VOLTS:
        for match in pattern.finditer(text):
            if float(match[1]) > laws.REFUSE_AC:
                return match[0]
    for match in PLAIN_VOLTS.finditer(text):
        if not plain:
            break
        if float(match[1]) in NOMINAL or float(match[1]) > laws.REFUSE_DC:
            return match[0]
    for match in DC_VOLTS.finditer(text):
        if float(match[1]) > laws.REFUSE_DC:
            return match[0]
    return ""


def _takes_power(part: Part, circuit: Circuit) -> bool:
    """True for a connector, a lead from outside, a transformer or a source: its value says what comes in."""
    package = circuit.packages[part.package]
    named = re.match(r"(?:T|TR|V|PS|AC)\d", part.ref) and package.shape not in (
        "to-92",
        "to-220",
    )  # T: a transistor too
    return values.is_connector(part, package) or bool(named)


def _mains(subject: str, words: str, where: tuple[str, ...]) -> Finding:
    return Finding(
        "mains-named",
        "error",
        f'{subject} speaks of the mains ("{words.strip()}"); such boards are never for that',
        where,
        {},
        laws.REFUSE_SOURCE,
        f"{CAUTION}; where nothing here can ever meet the mains, say what it is in words that do not speak of it",
    )


def _by_conductors(circuit: Circuit) -> Iterator[Finding]:
    """Nets named as the conductors of a supply line: one of them alone is an ordinary name, two kinds are a sign."""
    names = {net.name.lower(): net.name for net in circuit.nets}
    groups = [[names[word] for word in sorted(words & names.keys())] for words in (LINES, NEUTRALS, EARTHS)]
    lines, neutrals, earths = groups
    present = [name for group in groups for name in group]
    words = {name.lower() for name in present}
    sure = (earths and (lines or neutrals)) or (neutrals and lines and words & {"l1", "l2", "l3", "phase", "neutral"})
    if sure:
        yield _mains(f"nets {listed(present)} together", " ".join(present), tuple(present))
    elif lines and neutrals:
        yield Finding(
            "mains-names",
            "warning",
            f"nets {listed(present)} are named like the conductors of the mains",
            tuple(present),
            {},
            laws.REFUSE_SOURCE,
            f"{CAUTION}; else name them otherwise",
        )
