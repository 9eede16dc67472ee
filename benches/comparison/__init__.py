"""The parts of `benches/compare.py`: the job, its contenders, and how they are measured."""
