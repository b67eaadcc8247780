//! A bar as lines, for screen and paper alike: black on white, told by its length and texture. It ends where the figure
//! beside it says, and whoever has no figure has no bar.

use plumbline_core::report::paper::Bar;

/// How large a bar is drawn, in whatever unit; lines are as thick as suits points.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    /// From left to right, with the margins at its ends.
    pub width: f32,
    /// From top to bottom.
    pub height: f32,
}

/// Lines of one pen.
#[derive(Clone, Debug, PartialEq)]
pub struct Strokes {
    /// How thick they are.
    pub width: f32,
    /// Whether they are dashed.
    pub dashed: bool,
    /// From where to where: x and y, x and y.
    pub lines: Vec<[f32; 4]>,
}

/// Room at both ends for a line's thickness.
const MARGIN: f32 = 2.0;
/// Between the lines of the texture.
const TEXTURE: f32 = 3.0;

/// Where so many tenths of a per cent are.
pub fn place(tenths: u16, size: Size) -> f32 {
    MARGIN + (size.width - 2.0 * MARGIN) * f32::from(tenths.min(1000)) / 1000.0
}

/// A bar, and below it the line of its interval, if it has one.
pub fn strokes(bar: &Bar, size: Size) -> Vec<Strokes> {
    let pen = |width, lines| Strokes { width, dashed: false, lines };
    let at = |tenths| place(tenths, size);
    let down = |part: f32| size.height * part;
    let (top, foot) = if bar.interval.is_some() { (down(0.08), down(0.58)) } else { (down(0.2), down(0.8)) };
    let frame = |from, to| {
        vec![[from, top, to, top], [to, top, to, foot], [to, foot, from, foot], [from, foot, from, top]]
    };
    let guides = [0, 500, 1000].map(|tenths| [at(tenths), 0.0, at(tenths), size.height]);
    let mut drawn = vec![pen(0.3, guides.to_vec())];
    let (from, to) = (at(0), at(bar.to));
    if bar.to > 0 {
        let texture = std::iter::successors(Some(from + TEXTURE), |x| Some(x + TEXTURE));
        drawn.push(pen(0.5, texture.take_while(|x| *x < to).map(|x| [x, top, x, foot]).collect()));
        drawn.push(pen(0.9, frame(from, to)));
    }
    if let Some((low, high)) = bar.somewhere {
        drawn.push(Strokes { dashed: true, ..pen(0.9, frame(at(low), at(high))) });
    }
    if let Some((low, high)) = bar.interval {
        let end = |x| [x, down(0.66), x, down(0.98)];
        drawn.push(pen(1.2, vec![[at(low), down(0.82), at(high), down(0.82)], end(at(low)), end(at(high))]));
    }
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: Size = Size { width: 204.0, height: 10.0 };

    #[test]
    fn a_bar_ends_where_its_figure_says_and_its_line_at_the_interval() {
        // 200 units for a thousand tenths, behind a margin of 2.
        let bar = Bar { to: 700, somewhere: None, interval: Some((562, 809)) };
        let drawn = strokes(&bar, SIZE);
        assert_eq!(drawn.len(), 4, "guides, texture, frame and the line");
        assert!(drawn[1].lines.iter().all(|line| line[0] < 142.0), "{:?}", drawn[1]);
        let right = drawn[2].lines.iter().map(|line| line[2]).fold(0.0, f32::max);
        assert!((right - 142.0).abs() < 0.001, "{right}");
        let [low, _, high, _] = drawn[3].lines[0];
        assert!((low - 114.4).abs() < 0.001 && (high - 163.8).abs() < 0.001, "{low} {high}");
        let lowest = drawn[2].lines.iter().map(|line| line[3]).fold(0.0, f32::max);
        assert!(
            drawn[3].lines.iter().all(|line| line[1] > lowest),
            "the line is below the bar, whose end is seen"
        );
    }

    #[test]
    fn what_is_only_above_or_below_a_limit_is_dashed_from_there() {
        let above = strokes(&Bar { to: 950, somewhere: Some((950, 1000)), interval: None }, SIZE);
        let dashed: Vec<&Strokes> = above.iter().filter(|pen| pen.dashed).collect();
        let [from, _, to, _] = dashed[0].lines[0];
        assert!((from - 192.0).abs() < 0.001 && (to - 202.0).abs() < 0.001, "{from} {to}");
        let below = strokes(&Bar { to: 0, somewhere: Some((0, 50)), interval: None }, SIZE);
        assert_eq!(below.len(), 2, "no bar, but where it may end");
    }
}
