"""Where people meet the program: the command line and the bench. Both only put questions to the rooms below."""
