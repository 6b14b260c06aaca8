//! The look: every colour, type size and spacing, in the light and the dark scheme.
//!
//! One accent, one meaning: `act` says that a person must act. All else is ink and steel blue.

use eframe::egui::{
    self, Color32, CornerRadius, FontData, FontFamily, FontId, Margin, Shadow, Stroke, TextStyle, Theme, vec2,
};
use std::sync::Arc;

/// The colours of one scheme; ask with [`palette`].
#[derive(Debug)]
pub struct Palette {
    /// Ground of every page.
    pub paper: Color32,
    /// Ground of entry blanks.
    pub field: Color32,
    /// Text and lines that matter.
    pub ink: Color32,
    /// Second text.
    pub ink2: Color32,
    /// Units and hints.
    pub ink3: Color32,
    /// Base line of a field.
    pub edge: Color32,
    /// Hairlines.
    pub rule: Color32,
    /// Stronger hairlines; decoration only.
    pub rule2: Color32,
    /// Ground of the chosen row.
    pub tint: Color32,
    /// Closures.
    pub shade: Color32,
    /// Data.
    pub deep: Color32,
    /// Edge lines of data.
    pub mid: Color32,
    /// Fan fill.
    pub pale: Color32,
    /// Outer fan fill.
    pub faint: Color32,
    /// A person must act.
    pub act: Color32,
    /// Ground under it.
    pub act_tint: Color32,
    /// Second series; always dotted or dashed and labelled too.
    pub second: Color32,
    /// Third series; likewise.
    pub third: Color32,
}

const fn rgb(hex: u32) -> Color32 {
    Color32::from_rgb((hex >> 16) as u8, (hex >> 8) as u8, hex as u8)
}

static LIGHT: Palette = Palette {
    paper: rgb(0x00FA_FBFB),
    field: rgb(0x00FF_FFFF),
    ink: rgb(0x0016_212B),
    ink2: rgb(0x004B_5A66),
    ink3: rgb(0x005F_6D78),
    edge: rgb(0x0084_919B),
    rule: rgb(0x00D3_DADE),
    rule2: rgb(0x00A9_B4BB),
    tint: rgb(0x00EA_F0F4),
    shade: rgb(0x00EE_F1F2),
    deep: rgb(0x002F_6387),
    mid: rgb(0x0066_93B4),
    pale: rgb(0x00C3_D6E4),
    faint: rgb(0x00E1_EAF1),
    act: rgb(0x00B3_390B),
    act_tint: rgb(0x00FB_E7DD),
    second: rgb(0x00A9_8300),
    third: rgb(0x0047_205E),
};

static DARK: Palette = Palette {
    paper: rgb(0x0010_171D),
    field: rgb(0x0018_2229),
    ink: rgb(0x00E8_EEF2),
    ink2: rgb(0x00AE_BAC4),
    ink3: rgb(0x008D_9BA6),
    edge: rgb(0x0068_7783),
    rule: rgb(0x002A_3640),
    rule2: rgb(0x004A_5964),
    tint: rgb(0x001D_2A34),
    shade: rgb(0x0018_2027),
    deep: rgb(0x008E_BBDD),
    mid: rgb(0x004F_7899),
    pale: rgb(0x0033_526A),
    faint: rgb(0x0021_3645),
    act: rgb(0x00FF_9C6B),
    act_tint: rgb(0x003A_241A),
    second: rgb(0x00F5_E29A),
    third: rgb(0x009A_63B5),
};

/// The colours in force.
#[must_use]
pub fn palette(ui: &egui::Ui) -> &'static Palette {
    if ui.visuals().dark_mode { &DARK } else { &LIGHT }
}

/// Outer margin of a page.
pub const MARGIN: f32 = 20.0;
/// Height of the head.
pub const HEAD_HEIGHT: f32 = 41.0;
/// Height of the foot.
pub const FOOT_HEIGHT: f32 = 38.0;
/// Row height of tables.
pub const TABLE_ROW: f32 = 22.0;
/// Row height of lists.
pub const LIST_ROW: f32 = 26.0;
/// Row height of the entry grid.
pub const ENTRY_ROW: f32 = 35.0;

/// Text sizes.
pub mod size {
    /// Title, serif.
    pub const TITLE: f32 = 24.0;
    /// Lead line, serif.
    pub const LEAD: f32 = 18.0;
    /// Reason line, serif.
    pub const REASON: f32 = 15.0;
    /// Head of a section, serif semibold.
    pub const SECTION: f32 = 15.0;
    /// Body.
    pub const BODY: f32 = 13.0;
    /// Entry fields.
    pub const ENTRY: f32 = 15.0;
    /// Labels, axes, units.
    pub const LABEL: f32 = 12.0;
    /// The smallest.
    pub const SMALL: f32 = 11.0;
}

/// Sans serif, regular.
#[must_use]
pub fn sans(size: f32) -> FontId {
    FontId::new(size, FontFamily::Proportional)
}
/// Sans serif, semibold: a second weight, since `strong` only changes the colour.
#[must_use]
pub fn semibold(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name("semibold".into()))
}
/// Serif, regular.
#[must_use]
pub fn serif(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name("serif".into()))
}
/// Serif, semibold.
#[must_use]
pub fn serif_semibold(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name("serif semibold".into()))
}

/// Fonts and both schemes; once, before the first pass.
pub fn install(ctx: &egui::Context) {
    install_fonts(ctx);
    for (theme, colours) in [(Theme::Light, &LIGHT), (Theme::Dark, &DARK)] {
        ctx.style_mut_of(theme, |style| {
            sizes(style);
            scheme(&mut style.visuals, colours);
        });
    }
    ctx.on_end_pass("focus frame", Arc::new(focus_frame));
}

fn install_fonts(ctx: &egui::Context) {
    let mut fonts = egui::FontDefinitions::default(); // keeps egui's own fonts for signs ours lack
    let fall_back = fonts.families.get(&FontFamily::Proportional).cloned().unwrap_or_default();
    let ours: [(&str, FontFamily, &'static [u8]); 4] = [
        ("sans", FontFamily::Proportional, include_bytes!("../assets/fonts/SourceSans3-Regular.ttf")),
        (
            "sans semibold",
            FontFamily::Name("semibold".into()),
            include_bytes!("../assets/fonts/SourceSans3-Semibold.ttf"),
        ),
        ("serif", FontFamily::Name("serif".into()), include_bytes!("../assets/fonts/SourceSerif4-Regular.ttf")),
        (
            "serif semibold",
            FontFamily::Name("serif semibold".into()),
            include_bytes!("../assets/fonts/SourceSerif4-Semibold.ttf"),
        ),
    ];
    for (name, family, bytes) in ours {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
        let chain = std::iter::once(name.to_owned()).chain(fall_back.iter().cloned()).collect();
        fonts.families.insert(family, chain);
    }
    ctx.set_fonts(fonts);
}

fn sizes(style: &mut egui::Style) {
    style.text_styles = [
        (TextStyle::Heading, serif_semibold(size::SECTION)),
        (TextStyle::Body, sans(size::BODY)),
        (TextStyle::Button, sans(size::BODY)),
        (TextStyle::Small, sans(size::SMALL)),
        (TextStyle::Monospace, FontId::monospace(size::LABEL)),
    ]
    .into();
    let spacing = &mut style.spacing;
    spacing.item_spacing = vec2(8.0, 4.0);
    spacing.button_padding = vec2(8.0, 3.0);
    spacing.interact_size = vec2(24.0, 24.0);
    spacing.scroll = scroll_bars();
    spacing.menu_margin = Margin::same(8);
    style.interaction.selectable_labels = false; // or every label takes part in text selection
    style.animation_time = 0.0;
}

/// Bars that are always there, beside the content, in a grey that the ink gives.
fn scroll_bars() -> egui::style::ScrollStyle {
    let mut bars = egui::style::ScrollStyle::floating();
    bars.bar_width = 8.0;
    bars.floating_width = 8.0;
    bars.floating_allocated_width = 10.0;
    bars.foreground_color = true;
    bars.dormant_background_opacity = 0.0;
    bars.active_background_opacity = 0.0;
    bars.interact_background_opacity = 0.0;
    bars.dormant_handle_opacity = 0.25;
    bars.active_handle_opacity = 0.4;
    bars.interact_handle_opacity = 0.6;
    bars
}

fn scheme(visuals: &mut egui::Visuals, colours: &Palette) {
    visuals.override_text_color = Some(colours.ink);
    visuals.panel_fill = colours.paper;
    visuals.window_fill = colours.paper;
    visuals.window_stroke = Stroke::new(1.0, colours.ink);
    visuals.extreme_bg_color = colours.field;
    visuals.text_edit_bg_color = Some(colours.field);
    visuals.faint_bg_color = colours.tint;
    visuals.weak_text_color = Some(colours.ink2);
    visuals.hyperlink_color = colours.ink;
    visuals.warn_fg_color = colours.act;
    visuals.error_fg_color = colours.act;
    visuals.selection.bg_fill = colours.pale;
    visuals.selection.stroke = Stroke::new(1.0, colours.ink);
    visuals.window_corner_radius = CornerRadius::ZERO;
    visuals.menu_corner_radius = CornerRadius::ZERO;
    visuals.popup_shadow = Shadow::NONE;
    visuals.window_shadow = Shadow::NONE;
    visuals.text_cursor.blink = false; // a blinking caret repaints an idle window
    let widgets = &mut visuals.widgets;
    for (state, fill, edge) in [
        (&mut widgets.noninteractive, colours.paper, colours.rule),
        (&mut widgets.inactive, colours.paper, colours.rule2),
        (&mut widgets.hovered, colours.tint, colours.edge),
        (&mut widgets.active, colours.tint, colours.ink),
        (&mut widgets.open, colours.tint, colours.ink),
    ] {
        state.bg_fill = fill;
        state.weak_bg_fill = fill;
        state.bg_stroke = Stroke::new(1.0, edge);
        state.fg_stroke = Stroke::new(1.0, colours.ink);
        state.corner_radius = CornerRadius::ZERO;
        state.expansion = 0.0; // a widget that grows under the pointer no longer lines up
    }
}

/// egui draws a focused widget as if it were pressed; this frames it, whatever kind it is.
fn focus_frame(ui: &mut egui::Ui) {
    let ctx = ui.ctx();
    let Some(response) = ctx.memory(egui::Memory::focused).and_then(|id| ctx.read_response(id)) else { return };
    let ink = palette(ui).ink;
    ctx.layer_painter(response.layer_id).with_clip_rect(response.rect.expand(4.0)).rect_stroke(
        response.rect,
        0.0,
        Stroke::new(2.0, ink),
        egui::StrokeKind::Inside,
    );
}

/// Ink of the window's icon, as red, green, blue and opacity.
pub const ICON_INK: [u8; 4] = [0x16, 0x21, 0x2B, 0xFF];
/// Ground of the window's icon.
pub const ICON_PAPER: [u8; 4] = [0xFA, 0xFB, 0xFB, 0xFF];
