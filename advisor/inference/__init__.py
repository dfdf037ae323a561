"""From facts to conclusions: verdicts on conditions, firing of rules stage by stage, and why or why not."""
