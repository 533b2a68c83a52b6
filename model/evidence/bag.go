package evidence

// TypeZIP is the type of one paper that nobody sends in: the proofs that came
// with a tool from another shop, kept as one bag. Inspect does not take it.
const TypeZIP = "application/zip"
