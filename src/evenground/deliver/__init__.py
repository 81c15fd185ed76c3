"""What leaves the program: result folder, report, plots, tables and the summary on the terminal.

Modules load matplotlib and typst only when they draw or typeset; importing this package is cheap.
"""
