"""Serves a work folder as local pages: briefs, answers, batches and the library.

Handlers answer addresses, `folder` reads and writes, `asking` has questions answered by other processes, `guard` lets
nobody else in. No arithmetic stands here: every figure comes from a question and is told by the views.
"""
