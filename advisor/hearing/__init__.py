"""What a caller says, heard: from his words to facts, with an echo, a doubt to be confirmed, or the question again.

understand(definition, words) takes the answer to one question; `together` several questions in one breath, `beside`
what a sentence plainly holds beside its answer, `request` the trade's shorthand for a part.
"""

from .taken import suggestions
from .understanding import agrees, example, understand

__all__ = ["agrees", "example", "suggestions", "understand"]
