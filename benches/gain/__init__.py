"""The parts of `benches/gain.py`: ores, two sets of tables, the instruments, the methods, and what is printed."""
