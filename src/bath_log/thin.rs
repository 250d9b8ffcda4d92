//! Fewer points for a picture, so chosen that nothing that stands out is lost.

use rust_decimal::Decimal;

use super::Interval;
use super::Trace;

/// At most two readings for each of `buckets` equal parts of the interval: its least and its greatest, the
/// first of equals, in order of time. The least and the greatest of the whole interval are therefore always
/// among them, and so is a reading of every part in which one lies outside a window. No buckets: nothing.
pub fn thin(trace: &Trace<'_>, interval: &Interval, buckets: usize) -> Vec<(i64, Decimal)> {
    let mut points = Vec::new();
    let (count, length) = (buckets as i128, i128::from(interval.length()));
    if count == 0 {
        return points;
    }
    // Least and greatest of the bucket that ends before `until`.
    let mut bucket: Option<((i64, i64), (i64, i64))> = None;
    let mut until = i128::from(interval.from());
    let mut close = |bucket: Option<((i64, i64), (i64, i64))>| {
        let Some((least, most)) = bucket else { return };
        let (first, second) = if least.0 <= most.0 { (least, most) } else { (most, least) };
        for (at, value) in std::iter::once(first).chain((first != second).then_some(second)) {
            points.push((at, trace.channel().decimal(value)));
        }
    };
    for (t, v) in trace.inside(interval) {
        if i128::from(t) >= until {
            close(bucket.take());
            let place = (i128::from(t - interval.from()) * count / length).min(count - 1);
            // The first millisecond of the next bucket; the end of the interval belongs to the last.
            let next = ((place + 1) * length + count - 1) / count;
            until = i128::from(interval.from()) + if place == count - 1 { length + 1 } else { next };
        }
        bucket = Some(match bucket {
            None => ((t, v), (t, v)),
            Some((least, most)) => {
                (if v < least.1 { (t, v) } else { least }, if v > most.1 { (t, v) } else { most })
            }
        });
    }
    close(bucket);
    points
}
