"""The call sheet: what a call came to, as text for a terminal or file and as a page to print."""
