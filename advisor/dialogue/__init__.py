"""The call as a conversation: questions, commands during a call, terminal and plain pipe."""
