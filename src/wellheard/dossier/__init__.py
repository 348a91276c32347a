"""The dossier: everything known of a room's design, as pages for its readers.

`outline` decides every sentence and figure; `pdf` sets them in type.
"""

from wellheard.dossier.compose import outline, pdf
from wellheard.dossier.model import Identity, Outline

__all__ = ["Identity", "Outline", "outline", "pdf"]
