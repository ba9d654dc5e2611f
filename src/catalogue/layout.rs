//! What naga finds in a shader file: the settings' offsets, and whether the code keeps the header's word.

use naga::valid::{Capabilities, GlobalUse, ModuleInfo, ValidationFlags, Validator};
use naga::{AddressSpace, Expression, Module, Scalar, ScalarKind, Statement, TypeInner, VectorSize};

use super::{CatalogueError, Channels, Effect, Position, Reach, bounds, lexical, shader};
use crate::base::frame::PixelMode;
use crate::base::place::{Place, did_you_mean, listed};

/// Where each member of `struct Settings` lies in the uniform.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Layout {
    /// Name, offset in bytes, WGSL type.
    pub members: Vec<(String, u32, &'static str)>,
    /// Bytes of the whole struct, 16 or more.
    pub size: u32,
    /// Whether the effect's function does nothing but give its first argument back.
    pub gives_first: bool,
}

/// The function that a file must have, for its reach.
pub(super) fn entry(effect: &Effect) -> (&'static str, &'static str) {
    match (effect.reach, effect.channels, effect.position) {
        (Reach::Texel, Channels::Apart, Position::Ignored) => {
            ("channel", "fn channel(value: f32, index: u32) -> f32")
        }
        (Reach::Texel, Channels::Apart, Position::Matters) => {
            ("channel_at", "fn channel_at(value: f32, index: u32, at: vec2i) -> f32")
        }
        (Reach::Texel, _, Position::Ignored) => ("colour", "fn colour(c: vec3f) -> vec3f"),
        (Reach::Texel, _, Position::Matters) => ("colour_at", "fn colour_at(c: vec3f, at: vec2i) -> vec3f"),
        (Reach::Move, Channels::Together, _) => ("source", "fn source(at: vec2i) -> vec2i"),
        (Reach::Move, ..) => ("source", "fn source(at: vec2i, channel: u32) -> vec2i"),
        (Reach::Neighbourhood { .. }, ..) => ("area", "fn area(at: vec2i) -> vec4f"),
        (Reach::PastFrames, Channels::Apart, Position::Ignored) => {
            ("channel_over_past", "fn channel_over_past(now: f32, past: f32, index: u32) -> f32")
        }
        (Reach::PastFrames, Channels::Apart, Position::Matters) => (
            "channel_over_past_at",
            "fn channel_over_past_at(now: f32, past: f32, index: u32, at: vec2i) -> f32",
        ),
        (Reach::PastFrames, _, Position::Ignored) => {
            ("over_past", "fn over_past(now: vec4f, past: vec4f) -> vec4f")
        }
        (Reach::PastFrames, _, Position::Matters) => {
            ("over_past_at", "fn over_past_at(now: vec4f, past: vec4f, at: vec2i) -> vec4f")
        }
        (Reach::Source, ..) => ("paint", "fn paint(at: vec2i) -> vec4f"),
    }
}

/// Checks the effect's code in every form that the program runs, and gives its settings' layout.
pub(super) fn reflected(effect: &Effect) -> Result<Layout, CatalogueError> {
    let (function, signature) = entry(effect);
    let refuse = |needle: &str, message: String| {
        let offset = effect.source.find(needle).unwrap_or(0);
        CatalogueError::Code { place: Place::of_offset(&effect.origin, &effect.source, offset), message }
    };
    lexical::check(&effect.origin, &effect.source)?;
    // The file alone first: its own parse errors read better without ours around them.
    if !effect.source.contains(&format!("fn {function}(")) {
        return Err(refuse(
            "fn ",
            format!(
                "the header's reach, channels and position ask for the function `{signature}`, which is missing"
            ),
        ));
    }
    let mut layout = Layout::default();
    for pixels in PixelMode::ALL {
        let refuse_code = |(line, column, message): (usize, usize, String)| {
            let message = plainly(message);
            let own_lines = effect.source.lines().count();
            if line <= own_lines {
                let place = Place { file: effect.origin.clone(), line, column };
                return CatalogueError::Code { place, message };
            }
            refuse(
                &format!("fn {function}("),
                format!("{message} (where the program calls `{signature}`; check that function's form)"),
            )
        };
        if effect.remembers() {
            checked(&shader::past_shader(effect, pixels, shader::Workgroup::WIDE)).map_err(refuse_code)?;
        }
        let text = shader::assembled(effect, pixels, shader::Workgroup::WIDE);
        let (module, info) = checked(&text).map_err(refuse_code)?;
        check_globals(effect, &module, &info, function).map_err(|m| refuse(&format!("fn {function}"), m))?;
        layout = settings_layout(&module).map_err(|m| refuse("struct Settings", m))?;
        layout.gives_first = gives_first(&module, function);
        bounds::check(effect, &module).map_err(|(offset, message)| CatalogueError::Code {
            place: Place::of_offset(&effect.origin, &effect.source, offset),
            message,
        })?;
    }
    check_members(effect, &layout).map_err(|m| refuse("struct Settings", m))?;
    Ok(layout)
}

/// What the parser says, so that it can be read: a circle said as what it is, and nothing endless.
fn plainly(message: String) -> String {
    const LONGEST: usize = 400;
    let circle = |end: &str| message.strip_prefix("declaration of ")?.strip_suffix(end);
    let message = match circle(" is recursive").or_else(|| circle(" is cyclic")) {
        Some(name) => format!(
            "{name} uses itself, perhaps through others, which nothing in WGSL may; count with a loop"
        ),
        None => message,
    };
    match message.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &message[..end]),
        None => message,
    }
}

/// Parses and validates WGSL; an error gives line, column and message.
pub(crate) fn checked(text: &str) -> Result<(Module, ModuleInfo), (usize, usize, String)> {
    let at = |location: Option<naga::SourceLocation>| {
        location.map_or((1, 1), |l| (l.line_number as usize, l.line_position as usize))
    };
    let module = naga::front::wgsl::parse_str(text).map_err(|error| {
        let (line, column) = at(error.location(text));
        (line, column, error.message().to_owned())
    })?;
    let info =
        Validator::new(ValidationFlags::all(), Capabilities::empty()).validate(&module).map_err(|error| {
            let (line, column) = at(error.location(text));
            let mut message = error.as_inner().to_string();
            let mut cause = std::error::Error::source(error.as_inner());
            while let Some(inner) = cause {
                message = format!("{message}: {inner}");
                cause = inner.source();
            }
            (line, column, message)
        })?;
    Ok((module, info))
}

/// A texel effect or a move sees the picture only through its arguments; a
/// neighbourhood only through `straight`. Anything else would make a proof about it wrong.
fn check_globals(effect: &Effect, module: &Module, info: &ModuleInfo, function: &str) -> Result<(), String> {
    let known = ["picture", "result", "jobs", "settings", "layer", "past_picture", "past_layer"];
    for (_, global) in module.global_variables.iter() {
        let name = global.name.as_deref().unwrap_or("?");
        if !known.contains(&name) {
            return Err(format!(
                "the file declares the global `{name}`; an effect has its settings and its arguments, nothing else"
            ));
        }
        if name == "settings" && global.space != AddressSpace::Uniform {
            return Err("`settings` is the program's own name; call yours something else".to_owned());
        }
    }
    let Some((handle, _)) = module.functions.iter().find(|(_, f)| f.name.as_deref() == Some(function)) else {
        return Err(format!("the function `{function}` is missing"));
    };
    for (global, variable) in module.global_variables.iter() {
        let uses = info[handle][global];
        let name = variable.name.as_deref().unwrap_or("?");
        let allowed = match (name, effect.reach) {
            ("settings", _) => GlobalUse::READ | GlobalUse::QUERY,
            ("picture", Reach::Move) | ("result", Reach::Source) => GlobalUse::QUERY,
            ("picture", Reach::Texel | Reach::PastFrames) if effect.position == Position::Matters => {
                GlobalUse::QUERY
            }
            ("picture" | "layer", Reach::Neighbourhood { .. }) => GlobalUse::READ | GlobalUse::QUERY,
            _ => GlobalUse::empty(),
        };
        if !allowed.contains(uses) {
            return Err(format!(
                "`{function}` reaches `{name}`, which its declared reach does not allow; declare what it does, or leave it out"
            ));
        }
    }
    Ok(())
}

fn settings_layout(module: &Module) -> Result<Layout, String> {
    let Some((_, ty)) = module.types.iter().find(|(_, ty)| ty.name.as_deref() == Some("Settings")) else {
        return Err("`struct Settings` is missing".to_owned());
    };
    let TypeInner::Struct { members, span } = &ty.inner else {
        return Err("`Settings` is not a struct".to_owned());
    };
    let members = members
        .iter()
        .map(|member| {
            let name = member.name.clone().unwrap_or_default();
            let kind = match module.types[member.ty].inner {
                TypeInner::Scalar(Scalar { kind: ScalarKind::Float, width: 4 }) => "f32",
                TypeInner::Scalar(Scalar { kind: ScalarKind::Sint, width: 4 }) => "i32",
                TypeInner::Scalar(Scalar { kind: ScalarKind::Uint, width: 4 }) => "u32",
                TypeInner::Vector {
                    size: VectorSize::Tri,
                    scalar: Scalar { kind: ScalarKind::Float, .. },
                } => "vec3<f32>",
                TypeInner::Vector { size: VectorSize::Bi, scalar: Scalar { kind: ScalarKind::Sint, .. } } => {
                    "vec2<i32>"
                }
                TypeInner::Vector {
                    size: VectorSize::Bi,
                    scalar: Scalar { kind: ScalarKind::Float, .. },
                } => "vec2<f32>",
                _ => return Err(format!("`{name}` has a type that no setting has; see `underover effects`")),
            };
            Ok((name, member.offset, kind))
        })
        .collect::<Result<_, _>>()?;
    Ok(Layout { members, size: span.next_multiple_of(16).max(16), gives_first: false })
}

/// Whether a function is `return` and its first argument; what says the same in other words counts as no.
fn gives_first(module: &Module, function: &str) -> bool {
    let Some((_, function)) = module.functions.iter().find(|(_, f)| f.name.as_deref() == Some(function))
    else {
        return false;
    };
    let body: Vec<&Statement> = function.body.iter().collect();
    matches!(body[..], [Statement::Return { value: Some(given) }]
        if matches!(function.expressions[*given], Expression::FunctionArgument(0)))
}

fn check_members(effect: &Effect, layout: &Layout) -> Result<(), String> {
    let declared: Vec<(&str, &'static str)> = effect
        .settings
        .iter()
        .map(|s| (s.name.as_str(), s.default.uniform(PixelMode::default()).0))
        .chain(effect.derived.iter().map(|d| (d.name.as_str(), d.kind.uniform_type())))
        .collect();
    for (member, _, found) in &layout.members {
        if member == "none" {
            continue;
        }
        match declared.iter().find(|(name, _)| name == member) {
            None => {
                return Err(format!(
                    "`Settings` has the member `{member}`, which the header does not declare{}",
                    did_you_mean(member, declared.iter().map(|(name, _)| *name))
                ));
            }
            Some((_, wanted)) if wanted != found => {
                return Err(format!(
                    "`{member}` is {found} in `Settings`; its declaration makes it {wanted}"
                ));
            }
            Some(_) => {}
        }
    }
    let has_member = |name: &str| layout.members.iter().any(|(member, ..)| member == name);
    let feeds = |name: &str| {
        effect.derived.iter().any(|d| {
            d.kind.inputs().into_iter().any(|i| matches!(i, super::Input::Setting(from) if from == name))
        })
    };
    let lost: Vec<&str> =
        declared.iter().map(|(name, _)| *name).filter(|name| !has_member(name) && !feeds(name)).collect();
    if lost.is_empty() {
        Ok(())
    } else {
        Err(format!(
            "{} never reaches the shader; add it to `Settings` or remove its declaration",
            listed(lost)
        ))
    }
}
