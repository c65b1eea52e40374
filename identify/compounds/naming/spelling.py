"""How people write one name: letters, hyphens, marks, the order of words, grades and remarks.

Nothing here knows a compound. A name is brought to one form, and what stands beside it on a label
is taken off; which compound it means is for `identify.compounds.naming.resolver`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from itertools import permutations

from identify.notebook.units import plain_characters

# Carbon chains whose isomers iso-, sec-, tert- and n- tell apart.
_CHAIN = "(?:prop|but|pent|am|hex|hept|oct|non|dec|dodec)"
_STEM = r"(?:cyclo)?(?:meth|eth|prop|but|pent|hex|hept|oct|non|dec)(?:an|en|yn|a)?"
_SUFFIX = "(?:ol|one|al|en|yn|amine|thiol|diol|dione)"
_GREEK = str.maketrans(
    {"α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "ω": "omega"}
)
# Spellings of one thing, each brought to one form, in this order.
_SPELLINGS = tuple(
    (re.compile(pattern), form)
    for pattern, form in (
        (r"[\"“”„«»`´’‘′]", "'"),
        ("_", " "),
        (r"(?<=\b[a-z])\.(?=[a-z]\b)", ""),  # M.E.K.
        ("sulph", "sulf"),
        (r"aeth(?=er|yl|an|en|in)", "eth"),
        (r"alkohol|\balcool\b", "alcohol"),
        (r"(?<=[a-z])(keton|acetat|carbonat|propionat|butyrat|acrylat|chlorid|bromid)$", r"\1e"),
        # 1 2-, 1.2-, 1/2- and 1-2-dichloro are 1,2-dichloro.
        (r"(?<=\d)\s*[.,;/]\s*(?=\d)", ","),
        (r"(?<=\d)[ -](?=\d+(?:,\d+)*[- ]?[a-z])", ","),
        (r"(?<=\d) *- *(?=[a-z(])|(?<=\d) +(?=[a-z])", "-"),
        (r"(?<=[a-z]) *- *(?=\d)", "-"),
        (r"(?<![a-z])(o|m|p)(?:rtho|eta|ara)[- ]+", r"\1-"),
        (r"(?<![a-z])(cis|trans|[omp]|alpha|beta|gamma|dl)[. ]+(?=[a-z])", r"\1-"),
        (r"(?<![a-z])normal[- ]+|(?<![a-z'])n[. ]+-?(?=[a-z]{3})", "n-"),
        (rf"(?:tertiary|tert\.?|(?<![a-z])t\.?)[- ]*(?={_CHAIN})", "tert-"),
        (rf"(?:secondary|sec\.?|(?<![a-z(])s\.?(?=[- ]))[- ]*(?={_CHAIN})", "sec-"),
        (r"(?<![a-z])(?:iso|i)[-. ]+(?=[a-z])", "iso"),
        (r"(?<![a-z])(neo|cyclo)[- ]+", r"\1"),
        (r"(?<=an|en|yn)e(?=-\d+(?:,\d+)*-(?:ol|one|al|amine|thiol))", ""),
        (r"^([a-z].*[a-z])-(\d(?:,\d)*)$", r"\2-\1"),  # butanol-2
        # propan-2-ol and prop-2-enal are 2-propanol and 2-propenal
        (rf"({_STEM})-(\d+(?:,\d+)*)-(?={_SUFFIX})", r"-\2-\1"),
    )
)
# Marks of position and form in front of a part of a name: locants, Greek letters, o-, m-, p-, n-,
# sec-, tert-, iso-, cis-, trans-, stereo marks.
_MARKS = re.compile(
    r"\((?:[ezrs±]|\+/-|[-+]|\d+[ezrs](?:,\d+[ezrs])*|cis|trans)\)-?"
    r"|(?<![a-z])(?:\d+[a-z]?(?:,\d+[a-z]?)*|[nompstdlezr]|cis|trans|sec|tert|dl|alpha|beta|gamma)-"
    rf"|iso(?={_CHAIN}(?:yl|an|en|ox))"
)
_STEREO_MARK = re.compile(
    r"(?<![a-z])(?:cis|trans|[ezrsdl]|dl|alpha|beta|gamma|endo|exo|meso|threo|erythro)(?![a-z])"
    r"|\d[ezrs]\b"
)
# What people set at will: blanks, hyphens, brackets, and commas that part no locants.
_JOINTS = re.compile(r"[-\s()\[\]{}.':;]|,(?!\d)|(?<!\d),")
# An alkyl group without a mark is the straight chain with its free valence at the end: IUPAC
# Recommendations 2013, P-29.3.2.1; from memory.
_ALKYL = re.compile(r"(?:prop|but|pent|hex|hept|oct)yl(?!ene|idene)")
_MIN_BARE_NAME = 4  # letters; nothing shorter is a name with its locants left out

# What stands beside a name on labels and in price lists; common practice.
_GRADES = """
    acs a.c.s a.c.s. reagent reagents reag reag. grade quality hplc uhplc lc lc-ms lcms gc gc-ms uv
    ir nmr p.a p.a. pa p. a. puriss puriss. purum pure purified extra ultrapure ultra-pure
    high-purity purity high anal anal. analytical analysis anhydrous anhyd anhyd. anh. absolute
    absolut abs. abs dry dried super-dry superdry extra-dry spectroscopic spectrophotometric
    spectroscopy spectrograde spectral lab labs laboratory technical tech tech. practical pract
    pract. usp u.s.p. nf n.f. fcc bp b.p. ph ph. eur eur. ep jis food pharma pharmaceutical
    industrial commercial semiconductor electronic pesticide residue trace certified standard
    primary reference ar a.r. gr g.r. lr l.r. cp c.p. gpr chemically general purpose synthesis
    synth. glacial distilled redistilled double triple freshly fresh peptide biotech molecular
    biology histology histological chromatography solvent solvents liquid liq liq. colorless
    colourless neat sealed inhibitor-free inhibitor unstabilized unstabilised uninhibited stabilized
    stabilised stab stab. inhibited peroxide-free degassed
    filtered low free proof undenatured bottle bottles
    gradient isocratic premium select superior guaranteed guarantee research medical natural
    synthetic
    old new opened stock student students class teaching use only sample recycled recovered and or
    better mol. sieves sieve ¤
"""
_GRADE_WORDS = frozenset(_GRADES.split())
# Behind these words a remark goes on to its end.
_REMARK_OPENS = re.compile(
    r"(?:(?:stabili[sz]ed|inhibited|preserved) (?:with|by|over|w/)|over|for|from|with|w/|without"
    r"|contains|containing|bottle|shelf|batch|lot|cabinet|cupboard|bp|b\.p\.|boiling)\b"
    r"|.*\b(?:stabili[sz]ed|inhibited)$"
)
_AMOUNT = re.compile(
    r"(?<![\w.,-])\d+(?:[.,]\d+)?\s*(?:x\s*\d+\s*)?"
    r"(?:m?l|lit(?:er|re)s?|k?g|gal(?:lons?)?|oz|lbs?|pints?|ppm)\b"
)
_SHARE = re.compile(
    r"(?:\b(?:min(?:imum|\.)?|at least|approx\.?|ca\.?|about|over)|[>=<≥≤~+]+)?\s*"
    r"(?:\d{1,3}\s*-\s*)?(?<![\d.,])(\d{1,3}(?:[.,]\d+)?)\s*\+?\s*"
    r"(?:(?:vol|wt)\.?[\s-]*)?(%|percent|pct|proof)\s*\+?"
    r"(?:\s*(?:by (?:gc|volume|weight)|v/v|w/w|vol\.?|min\.?)(?![a-z]))?"
)
_BOILING_RANGE = re.compile(
    r"(?<![\w,-])\d{2,3} ?- ?\d{2,3}(?! ?[-\w%]) ?(?:°|deg)?\.? ?c?(?![\w-])"
    r"|(?<![\w,-])\d{2,3} ?- ?\d{2,3} ?(?:°|deg\.?)? ?c\b"
)
_LEAST_PURITY = 90.0  # percent; below it a bottle holds a solution. Common practice.
_NOT_ONE_COMPOUND = re.compile(
    r"\b(?:solution|soln|aq|aqueous|saturated|sat|dilute|diluted|mixture|blend|azeotrope|denatured"
    r"|in (?:water|methanol|ethanol|hexanes?|ether|thf|diethyl ether|toluene|heptane)"
    r"|(?:with|and|contain(?:s|ing)) (?:\d+ ?% )?water)\b"
)
_LABELED = re.compile(
    r"(?<![a-z])d\d{1,2}-(?=[a-z])|-d\d{0,2}(?![\w-])|deuter|(?<![a-z-])d\d{1,2}\b|13c"
)
_ISOMERS = re.compile(
    r"[\s,]*[(\[]?\b(?:mixtures? of (?:\w+ )?isomers|mixed isomers|isomeric mixture|isomer mixture"
    r"|mixed|isomers|all isomers|cis ?(?:and|\+|/|&) ?trans)\b[)\]]?"
)
_BRACKETS = re.compile(r"[\s,]*[(\[]([^()\[\]]*)[)\]]")
_ALIASES = re.compile(
    r"\s*(?:=|;|\||\baka\b|\balso called\b|\bor\b|,\s+|\s/\s|/(?=[a-z]{3})|\s+-\s+)\s*"
)
_CAS_INSIDE = re.compile(
    r"[\s,;(\[]*(?:cas(?:[\s-]*(?:no|nr|number|rn)\.?)?[\s:#]*)?(?<![\d,-])(\d{2,7}-\d\d-\d)(?![\d-])[\s,;)\]]*"
)
_MAX_PARTS = 4


def plain_name(text: str) -> str:
    """Return a name without capitals and accents, with plain hyphens and single blanks.

    Examples
    --------
    >>> plain_name(" 2‑Butanone "), plain_name("Éthanol"), plain_name("β-pinene")
    ('2-butanone', 'ethanol', 'beta-pinene')
    """
    text = plain_characters(text).casefold().translate(_GREEK)
    if not text.isascii():
        parts = unicodedata.normalize("NFKD", text)
        text = "".join(letter for letter in parts if not unicodedata.combining(letter))
    return " ".join(text.split())


def folded_name(text: str) -> str:
    """Return a name with all that people write in several ways in one of them.

    Examples
    --------
    >>> folded_name("Tertiary butyl alcohol"), folded_name("t-butyl alcohol")
    ('tert-butyl alcohol', 'tert-butyl alcohol')
    >>> folded_name("1.2 Dichloroethane"), folded_name("i-propanol"), folded_name("sec.Butanol")
    ('1,2-dichloroethane', 'isopropanol', 'sec-butanol')
    >>> folded_name("2-methylpropan-2-ol"), folded_name("prop-2-enal")
    ('2-methyl-2-propanol', '2-propenal')
    """
    name = plain_name(text)
    for pattern, form in _SPELLINGS:
        name = pattern.sub(form, name)
    return name.strip(" ,;.'-")


def joined(folded: str) -> str:
    """Return a folded name without blanks, hyphens and brackets, which people set at will.

    Examples
    --------
    >>> joined(folded_name("ethyl acetate")) == joined(folded_name("Ethylacetate"))
    True
    """
    return _JOINTS.sub("", folded)


def bare(folded: str) -> str:
    """Return a folded name without joints, and without marks of position and form.

    Examples
    --------
    >>> bare("1,2-dichloroethane"), bare("tert-butyl alcohol"), bare("isobutyl alcohol")
    ('dichloroethane', 'butylalcohol', 'butylalcohol')
    """
    return joined(_MARKS.sub("", folded))


def may_lack_marks(folded: str) -> bool:
    """Whether a name has no mark of position or form, and is long enough to lack one."""
    return _MARKS.search(folded) is None and len(folded) >= _MIN_BARE_NAME


def has_alkyl_group(folded: str) -> bool:
    """Whether a name has an alkyl group of which there are several.

    Examples
    --------
    >>> has_alkyl_group("butyl chloride"), has_alkyl_group("butylene oxide")
    (True, False)
    """
    return _ALKYL.search(folded) is not None


def has_stereo_mark(folded: str) -> bool:
    """Whether a name says which stereo form it is.

    Examples
    --------
    >>> has_stereo_mark("cis-2-butene"), has_stereo_mark("2-butene")
    (True, False)
    """
    return _STEREO_MARK.search(folded) is not None


def without_remarks(text: str) -> str:
    """Return a name without the grade, purity, amount and remarks that stand beside it.

    Examples
    --------
    >>> without_remarks("Acetone (ACS grade)"), without_remarks("ethanol, absolute, 99.5 %")
    ('acetone', 'ethanol')
    >>> without_remarks("THF (stabilized with BHT)"), without_remarks("dry ethyl ether 500 mL")
    ('thf', 'ethyl ether')
    """
    text = plain_name(text)
    for pattern in (_SHARE, _AMOUNT, _BOILING_RANGE):
        text = pattern.sub(" ¤ ", text)
    text = _BRACKETS.sub(lambda found: "" if _is_remark(found[1]) else found[0], text)
    parts = re.split(r"(\s*[,;:]\s+|\s+-\s+)", text)
    while len(parts) > 1 and _is_remark(parts[-1]):
        del parts[-2:]
    words = "".join(parts).split()
    behind = next((i for i in range(1, len(words)) if _is_remark(" ".join(words[i:]))), len(words))
    words = words[:behind]
    before = next((i for i in range(len(words) - 1, 0, -1) if _is_remark(" ".join(words[:i]))), 0)
    return " ".join(words[before:]).strip(" ,;:-")


def _is_remark(text: str) -> bool:
    words = [word.strip(",;:/") for word in text.split()]
    if _REMARK_OPENS.match(text.strip()):
        return True
    return all(word in _GRADE_WORDS or word.endswith(("-grade", "-free")) for word in words if word)


def other_than_one_compound(text: str) -> str:
    """Return why a text, by its remarks, is not one compound; empty text where it may be.

    Examples
    --------
    >>> other_than_one_compound("ethanol, 70 %"), other_than_one_compound("ethanol, 95 %")
    ('is a solution', '')
    >>> other_than_one_compound("acetone-d6")
    'is labeled with isotopes'
    """
    text = plain_name(text)
    for share, unit in _SHARE.findall(text):
        percent = float(share.replace(",", ".")) / (2.0 if unit == "proof" else 1.0)
        if percent < _LEAST_PURITY and not _REMARK_OPENS.search(text):
            return "is a solution"
    if _LABELED.search(text):
        return "is labeled with isotopes"
    return "is a solution or a mixture" if _NOT_ONE_COMPOUND.search(text) else ""


def leading_name(text: str) -> str:
    """Return the name that a text begins with, before its remarks.

    Examples
    --------
    >>> leading_name("ethanol, denatured"), leading_name("acetic acid 5 %")
    ('ethanol', 'acetic acid')
    """
    name = _NOT_ONE_COMPOUND.split(_SHARE.split(plain_name(text))[0])[0]
    return re.split(r",\s|[(\[]", name)[0].strip(" ,;:-")


def without_isomers(text: str) -> str:
    """Return a name without the remark that all its isomers are meant, else empty text.

    Examples
    --------
    >>> without_isomers("xylene (mixture of isomers)"), without_isomers("xylene")
    ('xylene', '')
    """
    text = plain_name(text)
    name = _ISOMERS.sub("", text).strip(" ,")
    return name if name != text else ""


def aliases(text: str) -> tuple[str, ...]:
    """Return the names that stand beside each other in a text; none where there is but one.

    Examples
    --------
    >>> aliases("tetrahydrofuran (THF)"), aliases("2-propanol = isopropyl alcohol, IPA")
    (('tetrahydrofuran', 'thf'), ('2-propanol', 'isopropyl alcohol', 'ipa'))
    >>> aliases("acetone CAS 67-64-1")
    ('acetone', '67-64-1')
    """
    text = _CAS_INSIDE.sub(lambda found: f" = {found[1]} = ", plain_name(text))
    inside = [one for one in _BRACKETS.findall(text) if len(one) > 1]
    outside = _BRACKETS.sub(lambda found: " " if len(found[1]) > 1 else found[0], text)
    parts = [part.strip() for one in (outside, *inside) for part in _ALIASES.split(one)]
    parts = [part for part in parts if part]
    return tuple(parts) if 1 < len(parts) <= _MAX_PARTS else ()


def reordered(text: str) -> Iterator[str]:
    """Yield a name with its words in other orders: ``ether, diethyl``, ``butanol (tert)``.

    Examples
    --------
    >>> list(reordered("ether, diethyl")), list(reordered("propane, 2-methyl-"))
    (['diethyl ether'], ['2-methyl- propane'])
    """
    words = re.sub(r",\s|[()\[\]]", " ", plain_name(text)).split()
    if 1 < len(words) <= _MAX_PARTS:
        for order in list(permutations(words))[1:]:
            yield " ".join(order)
