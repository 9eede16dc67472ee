//! From line intensities to what a sample holds: net intensity, drift, overlaps, blanks, and the matrix of mutual
//! influence of all components, solved as the linear system it is.
