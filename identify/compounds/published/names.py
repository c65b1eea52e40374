"""Names of compounds as people write them, from those that an index lists."""

from __future__ import annotations

import re

# "oxetane, 2-methyl-" and "1-propene, 1,2-dichloro-, (e)-": what goes before the parent.
_INVERTED = re.compile(
    r"(?P<parent>[^ ]+), (?P<before>[^ ]+)-(?:, (?P<stereo>\(\d*[ezEZ]\)|cis|trans)-)?"
)
# "ether, isobutyl methyl": classes whose name stands alone behind the groups.
_CLASS = re.compile(
    r"(?P<name>ether|peroxide|hydroperoxide|sulfide|disulfide), (?P<groups>[^,]+?)-?"
)
_STEREO = re.compile(r"\(\d*[ezrs](?:,\d+[ezrs])*\)")
# "n,n-", "n,o-", "n,n,2-": atoms that carry groups; and one alone before a group that has no
# normal form ("n-methyl" is on nitrogen, "n-butyl" may be a straight chain).
_ATOMS = re.compile(r"(?<![A-Za-z])((?:[no\d]'?,)+[no\d]'?|n')-")
_ON_NITROGEN = re.compile(
    r"(?<![A-Za-z])n-(?=methyl|ethyl|allyl|vinyl|isopropyl|tert-butyl|sec-butyl|isobutyl|isopentyl"
    r"|prop-2|phen|benz|nitro|thionyl|cyclo|acetyl|formyl|hydroxy|fluoro|chloro|bromo|trimethylsilyl"
    r"|[(\[]|(?:propyl|butyl|amyl|pentyl|hexyl)[a-z]*(?:amide|anilide|aniline|imide|hexanamine))"
)
_ON_SULFUR = re.compile(r"(?<![A-Za-z])s-(?=methyl|ethyl|propyl|isopropyl|phenyl|tert-butyl)")
# "1,2-bis(chloranyl)ethane": substituents as some programs name them, in brackets or not.
_HALOGENS = {"fluoranyl": "fluoro", "chloranyl": "chloro", "bromanyl": "bromo", "iodanyl": "iodo"}
_TIMES = {"bis": "di", "tris": "tri"}
_SUBSTITUENT = re.compile(
    r"(?:(?P<times>bis|tris|[a-z]*(?:tetra|penta|hexa|hepta|octa|nona|deca|cosa)kis)"
    rf"\((?P<held>{'|'.join(_HALOGENS)})\)|(?P<bare>{'|'.join(_HALOGENS)}))"
)
# "[difluoroamino]": square brackets are for what holds round ones, and for rings.
_BRACKETS = re.compile(r"\[([^\[\]()]{5,}[a-z])\]")
# "2-chloro-3-methyl-butane": no hyphen between a group with its locant and the parent.
_JOINT = re.compile(
    r"(\d-(?:di|tri)?(?:fluoro|chloro|bromo|iodo|methyl|ethyl|methoxy|ethoxy|phenyl))-"
    r"(?=(?:meth|eth|prop|but|pent|hex|hept|oct|non|dec)(?:a|ane|ene|yne|an|en|yn)?\b)"
)
# What says on which sides of a double bond the parts are; and names of chains with one: a trivial
# name, such as that of a maleate, says it itself.
_FORM_AT_DOUBLE_BOND = re.compile(
    r"(?<![A-Za-z])(?P<word>cis|trans|[EZez])(?=[-,)/]|$)|\d(?P<letter>[EZez])(?=[,)])"
)
_CHAIN_WITH_DOUBLE_BOND = re.compile(
    r"(?<!cyclo)(?:eth|prop|but|pent|hex|hept|oct|non|dec)(?:a?-[\d,]+-|a)?(?:di|tri|tetra)?en"
)
_CAPITAL = re.compile(r"(?:^|(?<=[-\s,)]))[A-Z](?=[a-z]{3})")


def readable_name(name: str) -> str:
    """Return a name with its parts in order, and capitals where nomenclature has them.

    Examples
    --------
    >>> readable_name("1-propene, 1,2-dichloro-, (e)-"), readable_name("ether, isobutyl methyl")
    ('(E)-1,2-dichloro-1-propene', 'isobutyl methyl ether')
    >>> readable_name("n,n-dimethylethylamine"), readable_name("n-butyl vinyl ether")
    ('N,N-dimethylethylamine', 'n-butyl vinyl ether')
    >>> readable_name("1-chloranyl-1,1-bis(fluoranyl)-2-methyl-propane")
    '1-chloro-1,1-difluoro-2-methylpropane'
    """
    name = _CAPITAL.sub(lambda match: match[0].lower(), name.strip())
    if whole := _CLASS.fullmatch(name):
        name = f"{whole['groups']} {whole['name']}"
    elif whole := _INVERTED.fullmatch(name):
        stereo = f"{whole['stereo']}-" if whole["stereo"] else ""
        joint = "-" if whole["parent"][0].isdigit() else ""
        name = f"{stereo}{whole['before']}{joint}{whole['parent']}"
    name = _BRACKETS.sub(r"(\1)", _JOINT.sub(r"\1", _SUBSTITUENT.sub(_halogens, name)))
    name = _STEREO.sub(lambda match: match[0].upper(), name)
    name = _ATOMS.sub(lambda match: f"{match[1].upper()}-", name)
    return _ON_SULFUR.sub("S-", _ON_NITROGEN.sub("N-", name))


def forms_in_name(name: str) -> str:
    """Return the forms at double bonds that a name says, sorted; cis and trans as Z and E.

    Examples
    --------
    >>> forms_in_name("(2E,4Z)-2,4-hexadiene"), forms_in_name("cis-2-butene"), forms_in_name("zinc")
    ('EZ', 'Z', '')
    """
    marks = (found["word"] or found["letter"] for found in _FORM_AT_DOUBLE_BOND.finditer(name))
    return "".join(sorted({"cis": "Z", "trans": "E"}.get(mark, mark.upper()) for mark in marks))


def leaves_out_form(name: str, systematic: str) -> bool:
    """Whether a name leaves out the form at a double bond that the systematic name gives.

    Examples
    --------
    >>> leaves_out_form("2-bromo-2-butene", "(E)-2-bromobut-2-ene")
    True
    >>> leaves_out_form("diethyl maleate", "diethyl (Z)-but-2-enedioate")
    False
    """
    return (
        _CHAIN_WITH_DOUBLE_BOND.search(name) is not None
        and not forms_in_name(name)
        and forms_in_name(systematic) != ""
    )


def _halogens(match: re.Match[str]) -> str:
    if match["bare"]:
        return _HALOGENS[match["bare"]]
    times = match["times"]
    return _TIMES.get(times, times.removesuffix("kis")) + _HALOGENS[match["held"]]
