"""The teacher's desk: what a student practises, from one idea up to a whole lesson.

It builds on editions, paper and sound; only the doors build on it.
"""
