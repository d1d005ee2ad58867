"""A bottling day on one page: what is done, what is next, each step's form one tap away.

Everything on it is worked out from the records and from the bottling form as it was put
aside, so that nothing is lost when the day is interrupted.
"""
