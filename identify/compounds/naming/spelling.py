"""How people write one name: letters, hyphens, marks, the order of words, grades and remarks.

Nothing here knows a compound. A name is brought to one form, and what stands beside it on a label
is taken off; which compound it means is for `identify.compounds.naming.resolver`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from itertools import permutations

from identify.compounds.naming.languages import CHAIN, FRENCH, GERMAN, SPANISH
from identify.notebook.quantity.units import plain_characters

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
        # The numbers of halocarbons are the same whoever sells them; those of FC- and two digits,
        # of Arcton and of Fluorinert are others.
        (
            r"^(?:(?:freon|[fr]|h?cfc|hfc|hcc|refrigerant|halocarbon|genetron|frigen)[- ]?(?=\d{2})"
            r"|fc[- ]?(?=\d{3}))(\d{2,3}(?:-\d\d)?[a-z]{0,3}(?:b\d)?)(?: ?\(halocarbon\))?$",
            r"freon-\1",
        ),
        (r"^halon[- ]?(?=\d{4}$)", "halon-"),
        (r"(?<=\b[a-z])\.(?=[a-z]\b)", ""),  # M.E.K.
        (r"^(?:\((?:±|\+/-|rs)\)|rac)-", ""),  # the racemate is what is sold
        ("sulph", "sulf"),
        (r"bi(?=chlorid|bromid|sulfid)", "di"),
        *GERMAN,
        *SPANISH,
        *FRENCH,
        # What is lacking between a word and its locant: propan2ol, 2butanone, nhexane, oxylene.
        (r"(?<![a-z])n[,. ]?n[- ]?(?=di|bis|meth|eth)", "n,n-"),
        (r"(?<=[a-z]{3})(?=\d(?:,\d)*-?(?:ol|one|al|ene?|yne|amine?|thiol|di|tri|[a-z]{4}))", "-"),
        (r"(?<![a-z\d])(\d(?:,\d+'?)*)(?=[a-z]{3})", r"\1-"),
        (r"(?<=-)(\d(?:,\d+'?)*)(?=[a-z]{2})", r"\1-"),
        (rf"(?<![a-z])n(?={CHAIN}(?:an|yl|ox))", "n-"),
        (r"(?<![a-z])([omp])(?=xyl|cresol|toluid)", r"\1-"),
        # 1 2-, 1.2-, 1/2- and 1-2-dichloro are 1,2-dichloro.
        (r"(?<=\d)\s*[.,;/]\s*(?=\d)", ","),
        (r"(?<=\d)[ -](?=\d+(?:[ ,]\d+)*[- ]?[a-z])", ","),
        (r"(?<=\d) *- *(?=[a-z(])|(?<=\d) +(?=[a-z])", "-"),
        (r"(?<=[a-z]) *- *(?=\d)", "-"),
        (r"(?<![a-z])(o|m|p)(?:rtho|eta|ara)[- ]+", r"\1-"),
        (r"(?<![a-z])(cis|trans|[omp]|alpha|beta|gamma|dl)[. ]+(?=[a-z])", r"\1-"),
        (r"(?<![a-z])normal[- ]+|(?<![a-z'])n[. ]+-?(?=[a-z]{3})", "n-"),
        (rf"(?:tertiary|tertia?e?r|tert\.?|(?<![a-z])t\.?)[- ]*(?={CHAIN})", "tert-"),
        (rf"(?:secondary|se[ck]\.?|(?<![a-z(])s\.?(?=[- ]))[- ]*(?={CHAIN})", "sec-"),
        (r"(?<![a-z])(?:iso|i)[-. ]+(?=[a-z])", "iso"),
        (r"(?<![a-z])(neo|cyclo)[- ]+", r"\1"),
        (r"(?<=an|en|yn)e(?=-\d+(?:,\d+)*-(?:ol|one|al|amine|thiol))", ""),
        (r"^([a-z].*[a-z])-(\d(?:,\d)*)$", r"\2-\1"),  # butanol-2
        # propan-2-ol and prop-2-enal are 2-propanol and 2-propenal
        (rf"({_STEM})-(\d+(?:,\d+)*)-(?={_SUFFIX})", r"-\2-\1"),
        (rf"(?<=yl)[- ]?({CHAIN}(?:an|en)(?:ol|one|e))-(\d)$", r"-\2-\1"),  # 2-methylpropanol-2
    )
)
# Marks of position and form in front of a part of a name: locants, Greek letters, o-, m-, p-, n-,
# sec-, tert-, iso-, cis-, trans-, stereo marks.
_MARKS = re.compile(
    r"\((?:[ezrs±]|\+/-|[-+]|\d+[ezrs](?:,\d+[ezrs])*|cis|trans)\)-?"
    r"|(?<![a-z])(?:\d+[a-z]?(?:,\d+[a-z]?)*|[nompstdlezr]|cis|trans|sec|tert|dl|alpha|beta|gamma)-"
    rf"|iso(?={CHAIN}(?:yl|an|en|ox))"
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
    stabilised inhibited peroxide-free degassed
    filtered low free proof undenatured bottle bottles
    gradient isocratic premium select superior guaranteed guarantee research medical natural
    synthetic
    old new opened stock student students class teaching use only sample recycled recovered and or
    better mol. sieves sieve ¤ ms racemic wash washing rinse cleaning no stabilizer stabiliser
    stabilizers inhibitors stab. stab unstab. unstab inhib. inhib
    flammable inflammable toxic poison poisonous corrosive hazardous volatile harmful danger
    absolu anhydre pur wasserfrei rein reinst techn. dest. destilliert analyse synthese
    dist dist. spectro unvergallt unvergaellt
    slr plus grado reactivo puro absoluto anhidro seco
"""
_GRADE_WORDS = frozenset(_GRADES.split())
# What keeps a liquid, named behind it.
_KEEPERS = frozenset(
    "bht mehq tbc hydroquinone amylene amylenes copper cu silver na sodium".split()  # noqa: SIM905
)
# Behind these words a remark goes on to its end.
_REMARK_OPENS = re.compile(
    r"(?:(?:stabili[sz]ed|stab\.?|inhibited|inhib\.?|preserved) (?:with|by|over|w)"
    r"|stab\.?(?: ¤)? \w+"
    r"|over|for|from|with|without|contains|containing|bottle|shelf|batch|lot|cabinet|cupboard|bp|boiling|fuer|fur|zur|mit|stabilisiert|pour"
    r"|stabilisee?|para (?:analisis|sintesis)|estabilizad[oa]"
    r"|opened|exp|expires|received|made|bought)\b|w/|b\.p\.|\S+ as (?:inhibitor|stabili[sz]er)"
    r"|(?:(?:bht|mehq|tbc|hydroquinone|amylenes?|ethanol|etoh|copper|silver) )?"
    r"(?:stabili[sz]ed|stab\.?|inhibited|inhib\.?)$"
)
_STABILIZED = re.compile(r"\b(?:stabili[sz]ed|stab\.?|inhibited|inhib\.?)$")
_AMOUNT = re.compile(
    r"(?:\b(?:mw|fw|mr?|molar mass|molmasse|mol\.? ?wt\.?) ?[=:]? ?)?"
    r"(?<![\w,.-])\d+(?:[.,]\d+)? ?g/mol\b"
    r"|(?:[<>=≤≥~]+ ?)?(?<![\w.,-])\d+(?:[.,]\d+)?\s*(?:x\s*\d+(?:[.,]\d+)?\s*)?"
    r"(?:m?l|lit(?:er|re)s?|k?g|gal(?:lons?)?|oz|lbs?|pints?|ppm|bottles?|cans?|flasks?)\b\.?"
    r"|\b(?:d|density|dichte) ?[=:]? ?[01]?[.,]\d+(?: ?(?:g/ml|g/cm3|kg/l))?"
    r"|\bun ?\d{4}\b|\b(?:mw|fw|mr) ?=? ?\d+(?:[.,]\d+)?"
    r"|(?<!cas)#\s*\d+(?![\d-])|\b(?:bottle|can|flask) ?(?:no\.? ?)?\d+\b|[?!*†]+$"
)
_SHARE = re.compile(
    r"(?:\b(?:min(?:imum|\.)?|at least|approx\.?|ca\.?|about|over)|[>=<≥≤~+]+)?\s*"
    r"(?:(?<![\d-])\d{1,3}(?:[.,]\d+)?\s*-\s*)?(?<![\d.,])(\d{1,3}(?:[.,]\d+)?)\s*\+?\s*"
    r"(?:(?:vol|wt)\.?[\s-]*)?(%|percent|pct|proof)\s*\+?"
    r"(?:\s*(?:by (?:gc|volume|weight)|v/v|w/w|vol\.?|min\.?)(?![a-z]))?"
)
# How much water there may be in what is sold as dry.
_WATER = re.compile(
    r"[\s,;(\[]*\b(?:h2o|water|moisture|wasser(?:gehalt)?|eau|agua)(?: content)?[\s:]*"
    r"(?:max(?:imum|\.)?|min\.?|[<>=≤≥~]+|below|under|less than|about|ca\.?)?\s*"
    r"(?:(?P<percent>\d+(?:[.,]\d+)?)\s*%|\d+(?:[.,]\d+)?\s*ppm)(?:\s*(?:max\.?|or less))?[)\]]*"
    r"|[\s,;(\[]*[<≤]+ ?\d+ ?ppm (?:h2o|water)[)\]]*"
)
_BOILING_RANGE = re.compile(
    r"(?<![\w,-])\d{2,3} ?[-/] ?\d{2,3}(?! ?[-\w%]) ?(?:°|deg)?\.? ?c?(?![\w-])"
    r"|(?<![\w,-])\d{2,3} ?- ?\d{2,3} ?(?:°|deg\.?)? ?c\b"
)
_LEAST_PURITY = 90.0  # percent; below it a bottle holds a solution. Common practice.
_FREE_OF = re.compile(r"^[a-z]+[ -]free ")
_PLUS = re.compile(r"\s\+\s*(?=[01](?:[.,]\d+)?\s*%)")
_MOST_ADDITIVE = 2.0  # percent of a stabilizer. Common practice.
_ADDED = re.compile(
    r"\w.*(?:\b(?:with|contains|containing|stab\.?|stabili[sz]ed|inhibited)|w/|,|\()"
    r"\s*(?:ca\.?|about|approx\.?|[<>~])?\s*(?:[\d.,]+\s*-\s*)?$"
)
_NOT_ONE_COMPOUND = re.compile(
    r"\b(?:solution|soln|aq|aqueous|saturated|sat|dilute|diluted|mixture|blend|fraction|azeotrope|denature[de]?|vergae?llt"
    r"|in (?:water|methanol|ethanol|hexanes?|ether|thf|diethyl ether|toluene|heptane)"
    r"|(?:with|and|contain(?:s|ing)) (?:\d+ ?% )?water)\b"
)
_LABELED = re.compile(
    r"(?<![a-z])d\d{1,2}-(?=[a-z])|-d\d{0,2}(?![\w-])|deuter|(?<![a-z-])d\d{1,2}\b|13c"
)
_ISOMERS = re.compile(
    r"[\s,]*[(\[]?\b(?:mixtures? of (?:\w+ )?isomers|mixed isomers|isomeric mixture|isomer mixture"
    r"|mixed|isomers|all isomers|isomere|isomerengemisch|cis ?(?:and|\+|/|&) ?trans)\b[)\]]?"
    r"|(?<=[a-z])\(s\)$"
)
_BRACKETS = re.compile(r"[\s,]*[(\[]([^()\[\]]*)[)\]]")
_ALIASES = re.compile(
    r"\s*(?:=|;|\||\baka\b|\ba\.k\.a\.|\balso called\b|\b(?:or|and)\b|\s[+&]\s|,\s+|\s/\s"
    r"|/(?=[a-z]{3})|\s+-\s+)\s*"
)
_CAS_INSIDE = re.compile(
    r"[\s,;(\[]*(?:cas(?:[\s-]*(?:no|nr|number|rn)\.?)?[\s:#]*)?(?<![\d,-])(\d{2,7}-\d\d-\d)(?![\d-])[\s,;)\]]*"
)
_FORMULA_BEHIND = re.compile(r"(.+?)[\s,;=(\[]+(C\d*H\d+(?:(?:N|O|S|F|Cl|Br|I|Si)\d*)*)[)\]]?")
_MAX_PARTS = 4
_LAST_NAMES = 1024  # kept: the index asks for each name several times in a row


@lru_cache(maxsize=_LAST_NAMES)
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


@lru_cache(maxsize=_LAST_NAMES)
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
        if pattern.search(name):  # takes half as long as to replace nothing
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
    text = _FREE_OF.sub("", _on_label(text))
    for pattern in (_SHARE, _AMOUNT, _BOILING_RANGE):
        text = pattern.sub(" ¤ ", text)
    text = _BRACKETS.sub(lambda found: "" if _is_aside(found[1]) else found[0], text)
    parts = re.split(r"(\s*[,;:]\s+|\s+-\s+)", text)
    while len(parts) > 1 and _is_aside(parts[-1]):
        del parts[-2:]
    words = "".join(parts).split()
    behind = next((i for i in range(1, len(words)) if _is_remark(" ".join(words[i:]))), len(words))
    words = words[:behind]
    before = next((i for i in range(len(words) - 1, 0, -1) if _is_remark(" ".join(words[:i]))), 0)
    return " ".join(words[before:]).strip(" ,;:-")


def _on_label(text: str) -> str:
    """Return a plain name without the water that there may be in it, and with additives named."""

    def dry(found: re.Match[str]) -> str:
        percent = float((found["percent"] or "0").replace(",", "."))
        return "" if percent <= _MOST_ADDITIVE else found[0]

    return _PLUS.sub(" with ", _WATER.sub(dry, plain_name(text)))


def _is_aside(text: str) -> bool:
    """Whether a text in brackets or behind a comma says nothing of which compound it is."""
    return (
        _is_remark(text)
        or text.endswith(" free")
        or _STABILIZED.search(text) is not None
        or {*text.split()} - {"¤"} <= _KEEPERS
    )


def _is_remark(text: str) -> bool:
    if _REMARK_OPENS.match(text.strip()):
        return True
    words = [word.strip(",;:/") for word in text.split()]
    return all(_is_grade(word) for word in words if word)


def _is_grade(word: str) -> bool:
    parts = {word} if word in _GRADE_WORDS else {*re.split("[-/]", word)}
    return parts <= _GRADE_WORDS or word.endswith(("-grade", "-free"))


def other_than_one_compound(text: str) -> str:
    """Return why a text, by its remarks, is not one compound; empty text where it may be.

    Examples
    --------
    >>> other_than_one_compound("ethanol, 70 %"), other_than_one_compound("ethanol, 95 %")
    ('is a solution', '')
    >>> other_than_one_compound("acetone-d6")
    'is labeled with isotopes'
    """
    text = _on_label(text)
    for found in _SHARE.finditer(text):
        percent = float(found[1].replace(",", ".")) / (2.0 if found[2] == "proof" else 1.0)
        is_additive = percent <= _MOST_ADDITIVE and _ADDED.search(text[: found.start(1)])
        if percent < _LEAST_PURITY and not is_additive:
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
    parts = [part.strip(" -") for one in (outside, *inside) for part in _ALIASES.split(one)]
    parts = [part for part in parts if part]
    return tuple(parts) if 1 < len(parts) <= _MAX_PARTS else ()


def name_and_formula(text: str) -> tuple[str, str]:
    """Part a name from the formula behind it; both empty where there is none.

    Examples
    --------
    >>> name_and_formula("ethyl acetate (C4H8O2)"), name_and_formula("acetone")
    (('ethyl acetate', 'C4H8O2'), ('', ''))
    """
    found = _FORMULA_BEHIND.fullmatch(text.strip())
    return (found[1], found[2]) if found else ("", "")


def offers_choice(text: str) -> bool:
    """Whether a text leaves open which of its names is meant."""
    return re.search(r"\b(?:or|and)\b|\s[+&]\s", plain_name(text)) is not None


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
