"""How names in German, Spanish and French differ from English ones: what is on imported bottles.

Each rule is a pattern in a name without capitals and accents, and what takes its place. They go in
this order; those of Spanish serve Italian and Portuguese in part.
"""

from __future__ import annotations

# Carbon chains whose isomers iso-, sec-, tert- and n- tell apart.
CHAIN = "(?:prop|but|pent|am|hex|hept|oct|non|dec|dodec)"
# German as it differs from English; umlauts have lost their dots, or are written out.
GERMAN = (
    (r"ae?th(?=yl|er(?![a-z])|anol|an(?![a-z])|en(?![a-z])|oxy)", "eth"),
    (r"aeth(?=en|in)", "eth"),
    (r"zyklo", "cyclo"),
    (r"azet(?=on|at|yl|al)", "acet"),
    (r"jod(?=id|meth|eth|prop|but|pent|benz|o|$)", "iod"),
    (r"(?<=chlor|fluor)(?=h?eth|meth|prop|but|pent|hex|benz|tolu|brom|iod)", "o"),
    (r"(?<=brom)(?=eth|meth|prop|but|pent|hex|benz|tolu|chlor|fluor)", "o"),
    (r"(?<=iod)(?=eth|meth|prop|but|pent|benz)", "o"),
    (r"essigsa?e?ure", "acetic acid "),
    (r"ameisensa?e?ure", "formic acid "),
    (r"propionsa?e?ure", "propionic acid "),
    (r"buttersa?e?ure", "butyric acid "),
    (r"kohlensa?e?ure", "carbonic acid "),
    (r"kohlenstoff", "carbon"),
    (r"benzol(?![a-z])", "benzene"),
    (r"toluole?(?![a-z])", "toluene"),
    (r"xylole?(?![a-z])", "xylene"),
    (r"styrol(?![a-z])", "styrene"),
    (r"formiate?(?![a-z])", "formate"),
    (r"(?<=chlor|fluor)ethylen(?![a-z])", "oethylene"),
    # Their halogens before a locant: 2-Chlor-2-methylpropan.
    (r"(chlor|fluor|brom|iod)(?=-(?:\d|meth|eth|prop|but|pent|hex))", r"\1o"),
    (
        r"(?<=[a-z -])(keton|acetat|formiat|carbonat|propionat|butyrat|acrylat|nitrat|nitrit"
        r"|chlorid|(?:prop|but|pent|hex|benz)(?:an)?oat|bromid|iodid|cyanid|oxid|sulfid|anhydrid|aldehyd"
        r"|amin|amid|nitril|ylen)$",
        r"\1e",
    ),
    (rf"((?:meth|eth|{CHAIN})(?:an|en|adien))(?=$|-\d$)", r"\1e"),
    (rf"((?:eth|{CHAIN})a?-[\d,]+-(?:di)?en|(?:an|en)(?:-[\d,]+-(?:di)?)?on)$", r"\1e"),
    (r"aldehyd(?=di|meth|eth)", "aldehyde "),
    (r"furane(?![a-z])", "furan"),
    (r"alkohol", "alcohol"),
)
# Spanish likewise: cloruro de metileno, acetato de etilo, eter dietilico, acido acetico.
SPANISH = (
    (r"ciclo", "cyclo"),
    (r"hidro", "hydro"),
    (r"clor(?=o|uro)", "chlor"),
    (r"yod(?=o|uro)", "iod"),
    (r"cian(?=uro)", "cyan"),
    (r"(chlor|fluor|brom|iod|cyan|sulf)uro(?![a-z])", r"\1ide"),
    (r"(aldehyd|aldehid)o(?![a-z])", "aldehyde"),
    (r"(carbon|furan)o(?![a-z])", r"\1"),
    (r"(?<=chloro|.bromo|..iodo)formo$", "form"),
    (r"bencen(?=o)", "benzen"),
    (r"(?<!c)etan(?=ol|o(?![a-z]))", "ethan"),
    (r"(?<![hc])etil(?=o|en|a|ic|[ -]|et|met|but|prop|$)", "ethyl"),
    (r"(acet|prop|but|pent|hex|vin)il(?=o|a|ic|[ -]|et|met|$)", r"\1yl"),
    (r"(?<![a-z])eter(?![a-z])", "ether"),
    (r"ato(?= de )", "ate"),
    (r"^(\S+(?:ate|ide)) de (\S*yl|carbon)o?$", r"\2 \1"),
    (r"^(\S+(?:ate|ide)) de (\S*ylen)o$", r"\2e \1"),
    (r"^(alcohol|ether) (\S*yl)ico$", r"\2 \1"),
    (r"(?<![a-z])xilen(?=o)", "xylen"),
    (r"^anhidrido (\S+ic)o$", r"\1 anhydride"),
    (r"^acido (\S+ic)o$", r"\1 acid"),
    (r"(?<=nitril)o$|(?<=an)o$|(?<=en)o$", "e"),
    (r"(?<=et|an|en)ona$", "one"),
    (r"(?<=am)ina$", "ine"),
)
# French likewise: what a compound is made of stands behind "de", an adjective behind its noun.
FRENCH = (
    (r"(?<![a-z])alcool(?![a-z])", "alcohol"),
    (r"^alcohol (\S*yl)ique$", r"\1 alcohol"),
    (r"^ether (.*yl)ique$", r"\1 ether"),
    (r"(?<![a-z])(chlor|brom|iod|cyan|fluor|disulf|sulf|tetrachlor)ure d(?=e |')", r"\1ide d"),
    (r"(?<![a-z])oxyde d(?=e |')", "oxide d"),
    (r"(?<![a-z])carbone(?![a-z])", "carbon"),
    (r"^(\S+(?:ate|ide)) d(?:e |'\s?)(\S+?yl)e$", r"\2 \1"),
    (r"^(\S+(?:ate|ide)) (?:d(?:e |'\s?)|of )(\S+)$", r"\2 \1"),
    (r"(?<=[a-z])cetone(?![a-z])|(?<![a-z])cetone", "ketone"),
)
