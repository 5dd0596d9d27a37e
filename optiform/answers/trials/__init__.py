"""What do trials say: which to make, what was read, what that taught, and whether another one is worth it?"""
