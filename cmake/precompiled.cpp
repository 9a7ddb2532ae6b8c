// Holds nothing: the object that a precompiled header belongs to.
