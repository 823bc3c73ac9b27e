"""The part of statics that is compiled: a meniscus followed along its arc."""
