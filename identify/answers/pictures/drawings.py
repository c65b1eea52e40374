"""Structures as drawings on a page."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from identify.answers.pictures.inline import inline_svg

if TYPE_CHECKING:
    from markupsafe import Markup

_BLACK = "#000000"
_BOND = 32.0  # CSS pixels, the same in all drawings, so that they can be compared
_LINE = 1.8  # CSS pixels
_MARGIN = 0.08  # of the drawing
_ATOM_LABEL = 17  # CSS pixels, as small print on the page


def structure_drawing(smiles: str, name: str) -> Markup | None:
    """Return a structure as an element of a page; None where there is none to draw.

    Parameters
    ----------
    smiles : str
        Empty, or no structure: nothing is drawn.
    name : str
        Of the compound, for those who do not see the drawing.

    Examples
    --------
    >>> drawing = structure_drawing("CCO", "ethanol")
    >>> 'aria-label="Structure of ethanol, SMILES CCO"' in drawing
    True
    >>> structure_drawing("no structure", "ethanol") is None
    True
    """
    drawn = _drawn(smiles) if smiles else None
    if drawn is None:
        return None
    label = f"Structure of {name}, SMILES {smiles}" if name else f"Structure, SMILES {smiles}"
    # Nothing in such a drawing refers to anything else in it: it needs no name of its own.
    return inline_svg(drawn, "structure", label, {_BLACK: "currentColor"})


@lru_cache(maxsize=512)
def _drawn(smiles: str) -> str | None:
    from rdkit import Chem, rdBase
    from rdkit.Chem import rdDepictor
    from rdkit.Chem.Draw import rdMolDraw2D

    with rdBase.BlockLogs():
        mol = Chem.MolFromSmiles(smiles)
    if mol is None or not mol.GetNumAtoms():
        return None
    rdDepictor.Compute2DCoords(mol, canonOrient=True)
    rdDepictor.StraightenDepiction(mol)
    pen = rdMolDraw2D.MolDraw2DSVG(-1, -1)
    options: Any = pen.drawOptions()
    options.useBWAtomPalette()
    options.clearBackground = False
    options.explicitMethyl = True  # a first-year student reads CH3, not the end of a line
    options.scalingFactor = _BOND / 1.5  # of a bond, which is drawn 1.5 units long
    options.bondLineWidth = _LINE
    options.scaleBondWidth = False
    options.fixedFontSize = _ATOM_LABEL
    options.padding = _MARGIN
    rdMolDraw2D.PrepareAndDrawMolecule(pen, mol)
    pen.FinishDrawing()
    return str(pen.GetDrawingText())
