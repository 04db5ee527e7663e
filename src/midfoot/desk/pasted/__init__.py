"""Free text that came with clips, read into what was said: per field, with the words it was read from.

Pure and English. Nothing is guessed in silence: what could mean two things is a doubt and sets nothing, what was
assumed says so, what was not understood is handed back. Rule for the next author: whoever reads the text must be
able to see, for every word, where it went.
"""

from midfoot.desk.pasted.read import Pasted, context_of, read
from midfoot.desk.pasted.words import Doubt, Said

__all__ = ["Doubt", "Pasted", "Said", "context_of", "read"]
