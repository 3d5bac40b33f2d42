"""The command line: one module a command, imported only when that command runs.

Takes words typed; gives text, files and exit codes. Nothing imports it.
"""
