"""The words of an answer before any question is known: yes and no, "not sure", numbers in words, the plain form of a
figure and its unit. `advisor/units.py` makes quantities in SI of them."""
