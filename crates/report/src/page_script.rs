//! What [`Figure::inline`](crate::Figure::inline) tells the script of a page: no code, only names.
//!
//! The script turns places into numbers and back by proportion; it needs no science.
//!
//! | element | attributes | meaning |
//! | --- | --- | --- |
//! | `g.plot` | `data-plot` | which plot: `recorded`, `measured`, `overlay`, `calibration`, `residuals`, … |
//! | | `data-left`, `data-right`, `data-top`, `data-bottom` | the rectangle inside the axes, in units of the `viewBox` |
//! | | `data-x-from`, `data-x-to`, `data-y-from`, `data-y-to` | the numbers at left, right, bottom and top, in the unit of the data |
//! | | `data-x-unit`, `data-y-unit` | that unit: `V`, `A`, or as reported |
//! | | `data-x-spacing`, `data-y-spacing` | `linear`, or `logarithmic` where the proportion is one of logarithms |
//! | `path` | `data-trace` | which curve: `recorded`, `blank`, `unsmoothed`, `smoothed`, `baseline`, `middle`, `scan-17` |
//! | `path.grip` | `data-handle`, `data-end`, `data-x` | an end (`from` or `to`) of the window `peak`, `baseline-1`, …, V |
//! | `circle` | `data-handle`, `data-x`, `data-y` | `anchor-1`, `anchor-2`: where the baseline touches the curve, V and A |
//! | `path.height` | `data-handle="height"`, `data-x`, `data-foot`, `data-tip` | where the height was measured, V and A |
//! | `.hairs path` | `data-trace`, a `title` | one scan of an overlay, unseen until it is pointed at or has the class `shown` |
