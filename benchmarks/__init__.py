"""Benchmarks: ratios against baselines."""
